-- schema: settled
-- One row a lamp life: what its days up to the settled one came to, so that a night need not read them again.
CREATE TABLE settled (
    fixture   VARCHAR NOT NULL, -- the fixture
    lamp_life BIGINT  NOT NULL, -- which lamp in it
    state     VARCHAR NOT NULL  -- JSON: sums of the run-hours, baseline, what was burned of late
);
