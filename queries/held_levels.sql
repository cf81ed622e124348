-- name: MakeLevels
-- Table levels: those rows of levels.sql, held or not, that one part holds.
-- $1 DATE: first day
-- $2 DATE: last day
SELECT
    fixture, lamp_life, day, run_hours, run_hours_lo, run_hours_hi, witness, output, output_raw, gain_ln, supply_ln, ambient_ln,
    level, level_raw, usable, supply_v, ambient_c, dim_pct, chain, flags, sensor
FROM held_levels
WHERE day BETWEEN $1 AND $2
ORDER BY life, day
