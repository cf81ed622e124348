-- name: SupplyOutside
-- Samples of one series outside a band of voltages, each with the one before and after it: what sags and swells are made of.
-- $1 VARCHAR: sensor
-- $2 VARCHAR: channel
-- $3 DOUBLE: factor that turns the reading into V
-- $4 DOUBLE: lower end of the band, V
-- $5 DOUBLE: upper end of the band, V
-- $6 TIMESTAMP: up to, UTC, not included
WITH series AS (
    SELECT time, value * $3 AS volts
    FROM readings
    WHERE sensor = $1 AND channel = $2 AND time < $6 AND NOT conflict AND value >= 0
), beside AS (
    SELECT
        time, volts,
        lag(time)   OVER (ORDER BY time) AS time_before, lag(volts)  OVER (ORDER BY time) AS volts_before,
        lead(time)  OVER (ORDER BY time) AS time_after,  lead(volts) OVER (ORDER BY time) AS volts_after
    FROM series
)
SELECT time, volts, time_before, volts_before, time_after, volts_after
FROM beside
WHERE volts < $4 OR volts > $5
ORDER BY time
