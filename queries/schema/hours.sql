-- schema: hours
-- One row a lamp life and day, from transform/hours and transform/lamp.
CREATE TABLE hours (
    fixture      VARCHAR NOT NULL, -- the fixture
    lamp_life    BIGINT NOT NULL,  -- which lamp in it
    day          DATE NOT NULL,    -- local calendar day of the site
    run_hours    DOUBLE NOT NULL,  -- [h] of this lamp life at the end of the day
    run_hours_lo DOUBLE NOT NULL,  -- [h] the least that the evidence allows
    run_hours_hi DOUBLE NOT NULL,  -- [h] the most
    witness      VARCHAR NOT NULL, -- evidence of the day's hours: meter, lamp-on time, usual hours, outage
    repeats      BOOLEAN NOT NULL, -- the light at full power is to the last digit that of the day before, as a stuck logger's
    disagree     DOUBLE            -- [1] lamp-on time minus meter over the last metered stretch, share of it
);
