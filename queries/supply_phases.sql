-- name: SupplyPhases
-- Moments at which three series were read together, by hour: the mean of each, for unbalance.
-- $1 VARCHAR: the three series, a line each: sensor, tab, channel
-- $2 TIMESTAMP: up to, UTC, not included
WITH wanted AS (
    SELECT i, split_part(line, chr(9), 1) AS sensor, split_part(line, chr(9), 2) AS channel
    FROM (SELECT unnest(string_split($1, chr(10))) AS line, unnest(range(3)) AS i) AS lines
), hourly AS (
    SELECT w.i, epoch_us(r.time) // 3600000000 AS hour, avg(r.value) AS value
    FROM readings r JOIN wanted w ON r.sensor = w.sensor AND r.channel = w.channel
    WHERE r.time < $2 AND NOT r.conflict
    GROUP BY 1, 2
)
SELECT a.hour, -- hours since 1970-01-01, UTC
       a.value AS phase_1, b.value AS phase_2, c.value AS phase_3 -- as read, before the register's factor
FROM hourly a JOIN hourly b ON a.hour = b.hour AND b.i = 1 JOIN hourly c ON a.hour = c.hour AND c.i = 2
WHERE a.i = 0
ORDER BY a.hour
