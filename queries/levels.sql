-- name: HoldLevels
-- Table levels: the output of each lamp life and day against its own baseline, with what it rests on; life gives the order.
-- $1 DATE: first day
-- $2 DATE: last day
SELECT
    o.life, o.fixture, o.lamp_life, o.day, o.run_hours, o.run_hours_lo, o.run_hours_hi, o.witness,
    o.output, o.output_raw, o.gain_ln, o.supply_ln, o.ambient_ln,
    CASE WHEN o.run_hours >= o.season_h THEN o.output / b.baseline END         AS level,
    CASE WHEN o.run_hours >= o.season_h THEN o.output_raw / b.baseline_raw END AS level_raw,
    coalesce(o.usable, 0) AS usable, o.supply_v, o.ambient_c, o.dim_pct,
    c.chain,
    CASE WHEN o.output IS NULL THEN '' ELSE concat_ws(' ',
        CASE WHEN NOT coalesce(o.measured, FALSE) THEN 'gain-ahead' END,
        CASE WHEN NOT coalesce(o.known, FALSE) THEN 'gain-unknown' END,
        CASE WHEN o.volts_ln IS NULL THEN 'no-supply' END,
        CASE WHEN o.ambient_c IS NULL THEN 'no-ambient' END,
        CASE WHEN o.dim_pct <> 100 THEN 'dimmed' END,
        CASE WHEN o.run_hours < o.season_h THEN 'seasoning' END,
        CASE WHEN o.run_hours >= o.season_h AND o.late_baseline THEN 'late-baseline' END,
        CASE WHEN o.run_hours >= o.season_h AND o.short_baseline THEN 'short-baseline' END) END AS flags,
    o.sensor
FROM outputs o
LEFT JOIN baselines b ON b.fixture = o.fixture AND b.lamp_life = o.lamp_life
LEFT JOIN chains c ON c.fixture = o.fixture AND o.day BETWEEN c.first_day AND c.last_day
WHERE o.day BETWEEN $1 AND $2
