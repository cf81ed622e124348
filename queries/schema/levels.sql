-- schema: levels
-- One row a lamp life and day: run-hours, output, what was corrected and the level.
CREATE TABLE levels (
    fixture      VARCHAR NOT NULL, -- the fixture
    lamp_life    BIGINT  NOT NULL, -- which lamp in it: 1, 2, 3 …
    day          DATE    NOT NULL, -- local calendar day of the site
    run_hours    DOUBLE  NOT NULL, -- [h] of this lamp life at the end of the day
    run_hours_lo DOUBLE  NOT NULL, -- [h] the least that the evidence allows
    run_hours_hi DOUBLE  NOT NULL, -- [h] the most
    witness      VARCHAR NOT NULL, -- what told the day's hours: meter, lamp-on time, usual hours, outage
    output       DOUBLE,           -- [umol/m2/s] at full power, corrected
    output_raw   DOUBLE,           -- [umol/m2/s] at full power, otherwise as read
    gain_ln      DOUBLE,           -- [1] what the sensor's gain added to ln(output_raw)
    supply_ln    DOUBLE,           -- [1] what the supply voltage added
    ambient_ln   DOUBLE,           -- [1] what the ambient temperature added
    level        DOUBLE,           -- [1] output relative to the baseline; null before there is one, and on days without output
    level_raw    DOUBLE,           -- [1] the same of output_raw
    usable       BIGINT  NOT NULL, -- readings behind it
    supply_v     DOUBLE,           -- [V] supply at the usable moments
    ambient_c    DOUBLE,           -- [degC] ambient at the usable moments
    dim_pct      DOUBLE,           -- [%] set point, of full power
    chain        VARCHAR NOT NULL, -- which epoch of lamp, gear, optic, placement, sensor and channel holds
    flags        VARCHAR NOT NULL, -- what the level rests on, words separated by spaces
    sensor       VARCHAR           -- that read the light; null on days without a row in table daily
);
