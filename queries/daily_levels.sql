-- name: DailyLevels
-- Daily levels with what was corrected and what they rest on.
-- $1 DATE: first day
-- $2 DATE: last day
-- $3 VARCHAR: fixture, '' for all
SELECT
    fixture, lamp_life, day, run_hours, run_hours_lo, run_hours_hi, witness, output, output_raw,
    gain_ln, supply_ln, ambient_ln, level, level_raw, usable, supply_v, ambient_c, dim_pct, chain, flags
FROM levels
WHERE day BETWEEN $1 AND $2 AND ($3 = '' OR fixture = $3)
ORDER BY fixture, lamp_life, day
