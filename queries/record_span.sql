-- name: RecordSpan
-- First and last day on which anything read any lamp's light; no row where nothing did.
-- $1 DATE: last day that may be used
SELECT min(day) AS first_day, max(day) AS last_day
FROM daily
WHERE day <= $1 AND readings > 0
HAVING count(*) > 0
