-- name: OnEdges
-- When one series of current or power came on and went out.
-- own to this engine: quantile_cont, epoch_us
-- $1 VARCHAR: sensor
-- $2 VARCHAR: channel
-- $3 DOUBLE: share of its usual burning value above which it is on
-- $4 TIMESTAMP: from, UTC
-- $5 TIMESTAMP: up to, UTC, not included
WITH seen AS (
    SELECT time, value
    FROM readings
    WHERE sensor = $1 AND channel = $2 AND time >= $4 AND time < $5 AND NOT conflict
), burning AS (
    -- nine readings in ten lie under this: a burning value wherever it burns a tenth of the time
    SELECT quantile_cont(value, 0.9) AS usual FROM seen
), state AS (
    SELECT
        time, value > $3 * usual AS lit,
        lag(value > $3 * usual) OVER (ORDER BY time) AS lit_before,
        lag(time) OVER (ORDER BY time) AS time_before
    FROM seen, burning
    WHERE usual > 0
)
SELECT
    time, lit,
    (epoch_us(time) - epoch_us(time_before)) / 1e6 AS seconds -- s since the reading before: how well the moment is known
FROM state
WHERE lit_before IS NOT NULL AND lit <> lit_before
ORDER BY time
