-- name: Conflicts
-- Readings whose series has another value at the same moment.
-- $1 BIGINT: at most so many rows
SELECT sensor, channel, time, value
FROM readings
WHERE conflict
ORDER BY sensor, channel, time, value
LIMIT $1
