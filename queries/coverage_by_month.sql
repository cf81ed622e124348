-- name: CoverageByMonth
-- How much of each fixture's time was seen, by calendar month.
-- $1 DATE: first day
-- $2 DATE: last day
SELECT
    date_trunc('month', day)::DATE             AS month,
    count(DISTINCT fixture)                    AS fixtures,
    count(*)                                   AS fixture_days,
    count(*) FILTER (readings > 0)             AS read_days,
    count(*) FILTER (ppfd IS NOT NULL)         AS level_days,
    sum(readings)::BIGINT                      AS readings,
    sum(usable)::BIGINT                        AS usable,
    sum(gap_h) / sum(hours)                    AS gap_share -- of the time, that no readings cover
FROM daily
WHERE day BETWEEN $1 AND $2
GROUP BY month
ORDER BY month
