-- schema: levels
-- One row a lamp life and day with a level, from transform/hours and transform/level. A site that has none yet has this empty table.
CREATE TABLE levels (
    fixture      VARCHAR NOT NULL,
    lamp_life    BIGINT  NOT NULL,
    day          DATE    NOT NULL, -- local calendar day of the site
    run_hours    DOUBLE  NOT NULL, -- h of this lamp life at the end of the day
    run_hours_lo DOUBLE  NOT NULL, -- h, the least that the witnesses allow
    run_hours_hi DOUBLE  NOT NULL, -- h, the most
    witness      VARCHAR NOT NULL, -- of the day's hours: meter, lamp-on time, usual hours, outage
    output       DOUBLE,           -- umol/m2/s, corrected
    output_raw   DOUBLE,           -- umol/m2/s at full power, otherwise as read
    gain_ln      DOUBLE,           -- what each correction added to ln(output_raw)
    supply_ln    DOUBLE,
    ambient_ln   DOUBLE,
    level        DOUBLE,           -- output relative to the baseline; null before there is one, and on days without output
    level_raw    DOUBLE,
    usable       BIGINT  NOT NULL, -- readings behind it
    supply_v     DOUBLE,           -- V
    ambient_c    DOUBLE,           -- degC
    dim_pct      DOUBLE,           -- per cent of full power
    chain        VARCHAR NOT NULL, -- which epoch of lamp, gear, optic, placement, sensor and channel holds
    flags        VARCHAR NOT NULL  -- what the level rests on, words separated by spaces
);
