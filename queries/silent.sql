-- name: Silent
-- The last day on which each fixture's light was read.
-- $1 DATE: last day that may be used
SELECT fixture, max(day) AS last_day, max(day) FILTER (ppfd IS NOT NULL) AS last_level_day
FROM daily
WHERE day <= $1 AND readings > 0
GROUP BY fixture
ORDER BY fixture
