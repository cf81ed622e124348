-- name: SupplyHistogram
-- Counts of one series' voltages by UTC hour and half-volt bin: few rows for years; the local hour is made of them outside.
-- own to this engine: epoch_us
-- $1 VARCHAR: sensor
-- $2 VARCHAR: channel
-- $3 DOUBLE: factor that turns the reading into V
-- $4 TIMESTAMP: up to, UTC, not included
SELECT
    CAST(floor(epoch_us(time) / 3600000000) AS BIGINT) AS hour,     -- hours since 1970-01-01, UTC
    CAST(floor(value * $3 / 0.5) AS BIGINT)         AS bin,      -- bin x 0.5 V up to (bin + 1) x 0.5 V
    count(*)                                        AS readings,
    sum(value * $3)                                 AS volts     -- V, sum of the readings
FROM readings
WHERE sensor = $1 AND channel = $2 AND time < $4
  AND NOT conflict AND value * $3 >= 0 AND value * $3 < 2000     -- what no supply can be is left out
GROUP BY 1, 2
ORDER BY 1, 2
