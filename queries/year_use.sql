-- name: YearUse
-- What each fixture did from one day to another: starts, energy by its counter and by its power, light at full power.
-- own to this engine: median, IGNORE NULLS
-- $1 DATE: first day
-- $2 DATE: last day
WITH d AS (
    SELECT
        fixture, starts, lit_h + edge_h / 2 AS lit_h, power_w, energy_first, energy_last, usable,
        ppfd / (dim_pct / 100) AS full_ppfd,
        lag(energy_last IGNORE NULLS) OVER (PARTITION BY fixture ORDER BY day) AS energy_before
    FROM daily
    WHERE day BETWEEN $1 AND $2
), e AS (
    SELECT *, coalesce(energy_before, energy_first) AS energy_from,
        power(10, ceil(log10(greatest(coalesce(energy_before, energy_first), 1) + 1e-9))) AS face -- range of the counter
    FROM d
)
SELECT
    fixture,
    count(*)                                                     AS days,
    CAST(sum(starts) AS BIGINT)                                  AS starts,
    count(energy_last)                                           AS energy_days,
    sum(CASE
        WHEN energy_last IS NULL THEN NULL
        WHEN energy_last >= energy_from THEN energy_last - energy_from
        -- from the top tenth of its face to the bottom tenth: it ran over; any other fall is a reset or another meter
        WHEN energy_from >= 0.9 * face AND energy_last <= 0.1 * face THEN face - energy_from + energy_last
        ELSE 0
    END)                                                         AS energy_kwh, -- kWh, by the counter
    count(power_w)                                               AS power_days,
    sum(power_w * lit_h) / 1000                                  AS power_kwh, -- kWh, power at steady burning times lamp-on time
    median(full_ppfd)                                            AS ppfd      -- umol/m2/s at full power, as read
FROM e
GROUP BY fixture
ORDER BY fixture
