-- name: SeriesSpan
-- Every series of the archive: how many readings, from when to when, how many in conflict.
SELECT
    sensor, channel,
    count(*)                          AS readings,
    count(*) FILTER (conflict)        AS conflicts,
    min(time)                         AS first_time, -- UTC
    max(time)                         AS last_time   -- UTC
FROM readings
GROUP BY sensor, channel
ORDER BY sensor, channel
