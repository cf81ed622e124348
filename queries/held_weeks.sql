-- name: MakeWeeks
-- Table weeks: those bins that weeks.sql made for some parts which one part holds.
-- $1 DATE: first day
-- $2 DATE: last day
SELECT fixture, lamp_life, day, period, placement, n, run_hours, ln_output, dim, supply_ln, ambient_c
FROM held_weeks
WHERE day BETWEEN $1 AND $2
ORDER BY life, day
