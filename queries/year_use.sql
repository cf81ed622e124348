-- name: YearUse
-- What each fixture did from one day to another: starts, energy by its counter and by its power, light at full power.
-- $1 DATE: first day
-- $2 DATE: last day
WITH d AS (
    SELECT
        fixture, starts, lit_h + edge_h / 2 AS lit_h, power_w, energy_first, energy_last, usable,
        ppfd / (dim_pct / 100) AS full_ppfd,
        lag(energy_last IGNORE NULLS) OVER (PARTITION BY fixture ORDER BY day) AS energy_before
    FROM daily
    WHERE day BETWEEN $1 AND $2
)
SELECT
    fixture,
    count(*)                                                     AS days,
    sum(starts)::BIGINT                                          AS starts,
    count(energy_last)                                           AS energy_days,
    sum(greatest(energy_last - coalesce(energy_before, energy_first), 0)) FILTER (energy_last IS NOT NULL) AS energy_kwh, -- kWh, by the counter
    count(power_w)                                               AS power_days,
    sum(power_w * lit_h) / 1000                                  AS power_kwh, -- kWh, power at steady burning times lamp-on time
    median(full_ppfd)                                            AS ppfd      -- umol/m2/s at full power, as read
FROM d
GROUP BY fixture
ORDER BY fixture
