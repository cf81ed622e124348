-- name: LightPerPower
-- Light at the sensor per electrical power, of fixtures whose power is read, from one day to another.
-- own to this engine: median
-- $1 DATE: first day
-- $2 DATE: last day
SELECT
    fixture,
    median(power_w)        AS power_w,       -- W
    median(ppfd)           AS ppfd,          -- umol/m2/s, at the day's dim state, as read
    median(ppfd / power_w) AS ppfd_per_watt, -- umol/m2/s a watt
    count(*)               AS days
FROM daily
WHERE day BETWEEN $1 AND $2 AND power_w > 0 AND ppfd > 0
GROUP BY fixture
ORDER BY fixture
