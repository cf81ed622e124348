-- name: Decline
-- Decline: level against run-hours, per lamp life, a row a day that has a level.
-- $1 DATE: last day
-- $2 VARCHAR: fixture, '' for all
SELECT fixture, lamp_life, day, run_hours, level, level_raw, flags
FROM levels
WHERE day <= $1 AND ($2 = '' OR fixture = $2) AND level IS NOT NULL
ORDER BY fixture, lamp_life, day
