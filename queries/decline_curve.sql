-- name: DeclineCurve
-- Decline in steps of run-hours: the median level and the middle half of the days within each step.
-- own to this engine: quantile_cont
-- $1 DATE: last day
-- $2 VARCHAR: fixture, '' for all
-- $3 DOUBLE: step, h
SELECT
    fixture, lamp_life,
    floor(run_hours / $3) * $3 + $3 / 2 AS run_hours, -- h, middle of the step
    quantile_cont(level, 0.5)  AS level,
    quantile_cont(level, 0.25) AS level_q1,
    quantile_cont(level, 0.75) AS level_q3,
    count(*) AS days
FROM levels
WHERE day <= $1 AND ($2 = '' OR fixture = $2) AND level IS NOT NULL
GROUP BY fixture, lamp_life, floor(run_hours / $3) * $3 + $3 / 2
ORDER BY fixture, lamp_life, floor(run_hours / $3) * $3 + $3 / 2
