-- schema: burning
-- One row a lamp life and calendar month: what it burned, of the months that count for its habit.
CREATE TABLE burning (
    fixture   VARCHAR NOT NULL, -- the fixture
    lamp_life BIGINT NOT NULL,  -- which lamp in it
    month     DATE NOT NULL,    -- its first day
    burned_h  DOUBLE NOT NULL,  -- [h] run-hours of the month
    days      BIGINT NOT NULL   -- days of it that were counted
);
