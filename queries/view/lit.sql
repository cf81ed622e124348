-- view: lit
-- Every day of every lamp life: its run-hours, its light as read, and by how much supply and temperature would be
-- taken out of it, in ln.
CREATE OR REPLACE TEMP VIEW lit AS
WITH seen AS (
SELECT
    l.life, h.fixture, h.lamp_life, h.day, h.run_hours, h.run_hours_lo, h.run_hours_hi, h.witness, h.repeats,
    l.season_h, l.late_baseline, l.short_baseline,
    d.sensor, d.usable, d.supply_v, d.ambient_c, d.dim_pct,
    -- the day of a relamp shows two lamps: neither has a level on it
    CASE WHEN h.day >= l.read_from AND d.ppfd > 0 AND d.dim_pct > 0 THEN d.ppfd / (d.dim_pct / 100) END AS output_raw,
    CASE WHEN d.supply_v > 0 THEN ln(d.supply_v / l.reference_v) END                                     AS volts_ln,
    l.supply_coef, l.ambient_coef, l.reference_c
FROM hours h
JOIN lives l ON l.fixture = h.fixture AND l.lamp_life = h.lamp_life
LEFT JOIN daily d ON d.fixture = h.fixture AND d.day = h.day
)
SELECT
    *,
    CASE WHEN output_raw IS NOT NULL THEN coalesce(-supply_coef * volts_ln, 0) END                   AS supply_ln,
    CASE WHEN output_raw IS NOT NULL THEN coalesce(-ambient_coef * (ambient_c - reference_c), 0) END AS ambient_ln
FROM seen
