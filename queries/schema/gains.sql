-- schema: gains
-- One row a sensor and stretch between its recalibrations: how its gain drifts: ln(gain) = per_day x (day - first_day).
CREATE TABLE gains (
    sensor    VARCHAR NOT NULL, -- instrument
    first_day DATE NOT NULL,    -- first day on which it holds
    last_day  DATE NOT NULL,    -- last day on which it does; 9999-12-31 = for ever
    per_day   DOUBLE NOT NULL,  -- [1] ln of the gain, a day
    measured  BOOLEAN NOT NULL, -- the stretch ends in an as-found gain
    known     BOOLEAN NOT NULL  -- the sensor has an as-found gain at all
);
