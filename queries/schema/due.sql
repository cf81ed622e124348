-- schema: due
-- One row a lamp in service, as the last night left it; `wane due` prints the dates.
CREATE TABLE due (
    fixture   VARCHAR NOT NULL, -- the fixture
    lamp_life BIGINT  NOT NULL, -- which lamp in it: 1, 2, 3 …
    lamp_type VARCHAR NOT NULL, -- hps-de, hps-se, cmh, mh, fluorescent or led
    cohort    VARCHAR NOT NULL, -- lamps expected to age alike: type and lot
    as_of     DATE    NOT NULL, -- last day that was used
    threshold DOUBLE  NOT NULL, -- [1] level at which the lamp is to be replaced
    run_hours DOUBLE  NOT NULL, -- [h] of this lamp life at the end of as_of
    state     VARCHAR NOT NULL, -- JSON: the room's burning habit, and what the record says of the lamp
    fit       VARCHAR NOT NULL  -- key of the posterior that the answer is made from
);
