-- name: BurnHabit
-- Burning hours a day of each fixture by calendar month, over the days of a stretch.
-- $1 DATE: first day
-- $2 DATE: last day
WITH burned AS (
    SELECT fixture, lamp_life, day,
        run_hours - lag(run_hours) OVER (PARTITION BY fixture, lamp_life ORDER BY day) AS h,
        day - lag(day) OVER (PARTITION BY fixture, lamp_life ORDER BY day) AS days
    FROM levels
    WHERE day >= $1::DATE - 1 AND day <= $2::DATE
)
SELECT fixture, month(day) AS month, count(*) AS days, avg(h) AS hours_per_day -- h a day
FROM burned
WHERE h IS NOT NULL AND days = 1
GROUP BY fixture, month(day)
ORDER BY fixture, month
