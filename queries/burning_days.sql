-- name: BurningDays
-- How each fixture burned day by day: times it came on, hours, set point, power and current.
-- $1 DATE: first day
-- $2 DATE: last day
SELECT
    fixture,
    day,
    starts,                        -- times the lamp came on
    lit_h + edge_h / 2 AS burned_h, -- h, by its light
    gap_h,                         -- h that no readings cover
    dim_pct,                       -- per cent of full power
    power_w,                       -- W, of the series that tells of the fixture: it may be shared
    current_a                      -- A, likewise
FROM daily
WHERE day BETWEEN $1 AND $2
ORDER BY fixture, day
