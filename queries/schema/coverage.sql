-- schema: coverage
-- One row a file and series: which file speaks of what, from when to when.
CREATE TABLE coverage (
    sequence BIGINT    NOT NULL, -- of the file
    sensor   VARCHAR   NOT NULL, -- the instrument
    channel  VARCHAR   NOT NULL, -- its channel
    first    TIMESTAMP NOT NULL, -- [UTC] first reading of the series in the file
    last     TIMESTAMP NOT NULL, -- [UTC] last reading
    readings BIGINT    NOT NULL  -- readings in the file, stored and duplicate
);
