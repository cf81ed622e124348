-- schema: weeks
-- One row a lamp life and week: the bins that the forecast sees.
CREATE TABLE weeks (
    fixture   VARCHAR NOT NULL, -- the fixture
    lamp_life BIGINT NOT NULL,  -- which lamp in it
    day       DATE NOT NULL,    -- middle of the week; weeks begin on the weekday of 1970-01-01
    period    BIGINT,           -- of sensor_periods
    placement BIGINT,           -- of placements
    n         BIGINT NOT NULL,  -- daily values in it
    run_hours DOUBLE NOT NULL,  -- [h] their mean
    ln_output DOUBLE NOT NULL,  -- [1] median of the natural logarithm of the output at full power in umol/m2/s
    dim       DOUBLE NOT NULL,  -- [1] set point as a share of full power
    supply_ln DOUBLE,           -- [1] ln of the supply over its reference; null where it was not read
    ambient_c DOUBLE            -- [degC] ambient
);
