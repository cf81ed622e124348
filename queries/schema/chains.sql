-- schema: chains
-- One row a fixture and stretch over which nothing of its optical chain changed.
CREATE TABLE chains (
    fixture   VARCHAR NOT NULL, -- the fixture
    first_day DATE NOT NULL,    -- first day on which it holds
    last_day  DATE NOT NULL,    -- last day on which it does; 9999-12-31 = for ever
    chain     VARCHAR NOT NULL  -- which epoch of lamp, gear, optic, placement, sensor and channel holds
);
