-- name: LifeWeeks
-- Level of each lamp life by week: the median of the week's days, at their mean run-hours.
-- own to this engine: median
-- $1 DATE: last day that may be used
SELECT
    fixture, lamp_life,
    CAST(floor(date_diff('day', DATE '1970-01-01', day) / 7.0) AS BIGINT) AS week, -- weeks since 1970-01-01
    avg(run_hours)                                        AS run_hours, -- h
    median(level)                                         AS level,
    count(*)                                              AS days
FROM levels
WHERE day <= $1 AND level IS NOT NULL
GROUP BY fixture, lamp_life, floor(date_diff('day', DATE '1970-01-01', day) / 7.0)
ORDER BY fixture, lamp_life, week
