-- name: RunHours
-- Run-hours of each lamp life at its last day, and how many days each witness told of.
-- $1 DATE: last day
-- $2 VARCHAR: fixture, '' for all
SELECT
    fixture, lamp_life,
    max(day)                                          AS day,
    max(run_hours)                                    AS run_hours,    -- h
    max(run_hours_lo)                                 AS run_hours_lo, -- h
    max(run_hours_hi)                                 AS run_hours_hi, -- h
    count(*) FILTER (witness = 'meter')               AS by_meter,     -- days
    count(*) FILTER (witness = 'lamp-on time')        AS by_lit,
    count(*) FILTER (witness = 'usual hours')         AS by_habit,
    count(*) FILTER (witness = 'outage')              AS by_outage
FROM levels
WHERE day <= $1 AND ($2 = '' OR fixture = $2)
GROUP BY fixture, lamp_life
ORDER BY fixture, lamp_life
