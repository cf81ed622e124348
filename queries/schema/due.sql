-- schema: due
-- One row a lamp in service, as the last night left it: what `wane due --format csv` prints.
CREATE TABLE due (
    fixture      VARCHAR NOT NULL, -- the fixture
    lamp_life    BIGINT  NOT NULL, -- which lamp in it: 1, 2, 3 …
    lamp_type    VARCHAR NOT NULL, -- hps-de, hps-se, cmh, mh, fluorescent or led
    cohort       VARCHAR NOT NULL, -- lamps expected to age alike: type and lot
    as_of        DATE    NOT NULL, -- last day that was used
    threshold    DOUBLE  NOT NULL, -- [1] level at which the lamp is to be replaced
    run_hours    DOUBLE  NOT NULL, -- [h] of this lamp life at the end of as_of
    level        DOUBLE,           -- [1] of the lamp now
    level_lo     DOUBLE,           -- [1] lower end of its interval
    level_hi     DOUBLE,           -- [1] upper end
    due_hours    DOUBLE,           -- [h] run-hours at which the level falls under the threshold
    due_hours_lo DOUBLE,           -- [h] lower end of its interval
    due_hours_hi DOUBLE,           -- [h] upper end; null where only a lower bound is claimed
    due_date     DATE,             -- the day of due_hours
    due_date_lo  DATE,             -- that of due_hours_lo
    due_date_hi  DATE,             -- that of due_hours_hi
    interval     DOUBLE  NOT NULL, -- [1] probability content of the intervals
    status       VARCHAR NOT NULL, -- forecast, under, beyond, too-early, inseparable, dark or no-data
    method       VARCHAR NOT NULL, -- how it was made
    reason       VARCHAR NOT NULL  -- in words: what is missing, and what would settle it
);
