-- name: SupplyPhases
-- Moments at which three series were read together, by hour: the mean of each, for unbalance.
-- own to this engine: epoch_us
-- $1 VARCHAR: first series, sensor
-- $2 VARCHAR: first series, channel
-- $3 VARCHAR: second series, sensor
-- $4 VARCHAR: second series, channel
-- $5 VARCHAR: third series, sensor
-- $6 VARCHAR: third series, channel
-- $7 TIMESTAMP: up to, UTC, not included
WITH series AS (
    SELECT 1 AS phase, time, value FROM readings WHERE sensor = $1 AND channel = $2 AND time < $7 AND NOT conflict
    UNION ALL
    SELECT 2 AS phase, time, value FROM readings WHERE sensor = $3 AND channel = $4 AND time < $7 AND NOT conflict
    UNION ALL
    SELECT 3 AS phase, time, value FROM readings WHERE sensor = $5 AND channel = $6 AND time < $7 AND NOT conflict
), hourly AS (
    SELECT phase, CAST(floor(epoch_us(time) / 3600000000) AS BIGINT) AS hour, avg(value) AS value
    FROM series
    GROUP BY phase, CAST(floor(epoch_us(time) / 3600000000) AS BIGINT)
)
SELECT a.hour, -- hours since 1970-01-01, UTC
       a.value AS phase_1, b.value AS phase_2, c.value AS phase_3 -- as read, before the register's factor
FROM hourly a
JOIN hourly b ON a.hour = b.hour AND b.phase = 2
JOIN hourly c ON a.hour = c.hour AND c.phase = 3
WHERE a.phase = 1
ORDER BY a.hour
