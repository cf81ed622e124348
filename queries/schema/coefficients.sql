-- schema: coefficients
-- One row a kind of gear or lamp type: what is taken out of a reading.
CREATE TABLE coefficients (
    what           VARCHAR NOT NULL, -- supply: per cent of light per per cent of voltage; ambient: relative change of light per degree
    of_kind        VARCHAR NOT NULL, -- gear, or lamp type; '' = not known
    used           DOUBLE NOT NULL,  -- [1] what the levels are made with, in the unit that what says
    estimate       DOUBLE,           -- [1] from the site's own swings
    estimate_lo    DOUBLE,           -- [1] lower end of its interval
    estimate_hi    DOUBLE,           -- [1] upper end
    estimate_level DOUBLE,           -- [1] probability content of the interval
    n              BIGINT NOT NULL,  -- that the estimate rests on
    method         VARCHAR NOT NULL, -- how it was made
    said           VARCHAR NOT NULL  -- why there is none, or what to mind
);
