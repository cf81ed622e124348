-- name: RowsOfDay
-- The readings of one series within a stretch of time: the end of the way back from a due date.
-- $1 VARCHAR: sensor
-- $2 VARCHAR: channel
-- $3 TIMESTAMP: from, UTC
-- $4 TIMESTAMP: to, not included
SELECT time, value, conflict
FROM readings
WHERE sensor = $1 AND channel = $2 AND time >= $3 AND time < $4
ORDER BY time, value
