-- schema: baselines
-- One row a lamp life: what 100 % is.
CREATE TABLE baselines (
    fixture      VARCHAR NOT NULL, -- the fixture
    lamp_life    BIGINT NOT NULL,  -- which lamp in it
    baseline     DOUBLE NOT NULL,  -- [umol/m2/s] corrected
    baseline_raw DOUBLE NOT NULL,  -- [umol/m2/s] at full power, otherwise as read
    deviation    DOUBLE NOT NULL   -- [umol/m2/s] median absolute deviation of its days
);
