-- name: LifeYears
-- Each lamp life by calendar year: its first and last day, run-hours at both, and what they rest on.
-- own to this engine: arg_max
-- $1 DATE: last day that may be used
-- $2 DATE: first day of the record; run-hours before it were seen by nobody
SELECT
    fixture, lamp_life, year(day) AS year,
    min(day)                                               AS first_day,
    max(day)                                               AS last_day,
    -- h at the end of the last day before the record
    max(CASE WHEN day < CAST($2 AS DATE) THEN run_hours END)  AS hours_unseen,
    min(CASE WHEN day >= CAST($2 AS DATE) THEN run_hours END) AS hours_first, -- h at the end of the first day
    max(run_hours)                                         AS hours_last,   -- h at the end of the last day
    max(CASE WHEN usable > 0 THEN run_hours END)           AS hours_lit,    -- h at the end of the last day seen lit
    max(run_hours_lo)                                      AS hours_last_lo,
    max(run_hours_hi)                                      AS hours_last_hi,
    arg_max(output / level, day)                           AS baseline,     -- umol/m2/s that is level 1
    count(*)                                               AS days,
    count(level)                                           AS level_days,
    count(CASE WHEN witness = 'meter' THEN 1 END)          AS by_meter,     -- days
    count(CASE WHEN witness = 'lamp-on time' THEN 1 END)   AS by_lit,
    count(CASE WHEN witness NOT IN ('meter', 'lamp-on time') THEN 1 END) AS unseen
FROM levels
WHERE day <= CAST($1 AS DATE)
GROUP BY fixture, lamp_life, year(day)
ORDER BY fixture, lamp_life, year
