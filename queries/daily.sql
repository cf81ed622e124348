-- name: Daily
-- The daily roll-up, fixture by fixture in day order.
-- $1 DATE: last day that may be used
-- $2 VARCHAR: fixture, '' for all
SELECT
    fixture, day, hours, sensor, channel, readings, usable, ppfd, spread, dim_pct, supply_v, ambient_c, power_w, current_a,
    lit_h, edge_h, gap_h, starts, meter_first, meter_first_at, meter_last, meter_last_at
FROM daily
WHERE day <= $1 AND ($2 = '' OR fixture = $2)
ORDER BY fixture, day
