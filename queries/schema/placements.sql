-- schema: placements
-- One row a fixture and stretch over which it hung in one place.
CREATE TABLE placements (
    placement BIGINT NOT NULL,  -- key
    fixture   VARCHAR NOT NULL, -- the fixture
    room      VARCHAR NOT NULL, -- its room
    bay       VARCHAR NOT NULL, -- its bay
    circuit   VARCHAR NOT NULL, -- its circuit
    first_day DATE NOT NULL,    -- first day on which it holds
    last_day  DATE NOT NULL     -- last day on which it does; 9999-12-31 = for ever
);
