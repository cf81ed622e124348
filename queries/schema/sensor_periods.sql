-- schema: sensor_periods
-- One row a fixture and stretch over which one series read its light.
CREATE TABLE sensor_periods (
    period    BIGINT NOT NULL,  -- key
    fixture   VARCHAR NOT NULL, -- the fixture
    sensor    VARCHAR NOT NULL, -- instrument
    channel   VARCHAR NOT NULL, -- its channel
    factor    DOUBLE NOT NULL,  -- [1] turns the reading into umol/m2/s
    first_day DATE NOT NULL,    -- first day on which it holds
    last_day  DATE NOT NULL     -- last day on which it does; 9999-12-31 = for ever
);
