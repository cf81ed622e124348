-- name: SupplyCadence
-- How often one series is read: the usual interval, and from when to when.
-- own to this engine: median, epoch_us
-- $1 VARCHAR: sensor
-- $2 VARCHAR: channel
-- $3 TIMESTAMP: up to, UTC, not included
WITH step AS (
    SELECT time, (epoch_us(time) - lag(epoch_us(time)) OVER (ORDER BY time)) / 1e6 AS seconds
    FROM readings
    WHERE sensor = $1 AND channel = $2 AND time < $3
)
SELECT count(*) AS readings, min(time) AS first, max(time) AS last, median(seconds) AS seconds -- s between two readings
FROM step
HAVING count(*) > 0
