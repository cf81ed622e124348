-- schema: readings
-- Every reading ever taken in, once.
CREATE TABLE readings (
    sensor   VARCHAR   NOT NULL, -- the instrument, as the file or its description names it
    channel  VARCHAR   NOT NULL, -- which of its channels; what it measures is in register/sensors.csv
    time     TIMESTAMP NOT NULL, -- [UTC] moment of the reading
    value    DOUBLE    NOT NULL, -- [the logger's] as the logger printed it, before the register's factor
    conflict BOOLEAN   NOT NULL  -- another value stands at the same moment: neither is used
);
