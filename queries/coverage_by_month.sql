-- name: CoverageByMonth
-- How much of each fixture's time was seen, by calendar month.
-- $1 DATE: first day
-- $2 DATE: last day
SELECT
    CAST(date_trunc('month', day) AS DATE)           AS month,
    count(DISTINCT fixture)                          AS fixtures,
    count(*)                                         AS fixture_days,
    count(CASE WHEN readings > 0 THEN 1 END)         AS read_days,
    count(ppfd)                                      AS level_days,
    CAST(sum(readings) AS BIGINT)                    AS readings,
    CAST(sum(usable) AS BIGINT)                      AS usable,
    sum(gap_h) / sum(hours)                          AS gap_share -- of the time, that no readings cover
FROM daily
WHERE day BETWEEN $1 AND $2
GROUP BY CAST(date_trunc('month', day) AS DATE)
ORDER BY month
