-- schema: posteriors
-- One row a lamp in service: the last fit of its decline, for `wane due` at any threshold.
CREATE TABLE posteriors (
    fixture     VARCHAR NOT NULL, -- the fixture
    lamp_life   BIGINT  NOT NULL, -- which lamp in it
    posterior   VARCHAR NOT NULL, -- JSON: what is believed of the lamp
    calibration VARCHAR NOT NULL  -- JSON: how much wider its intervals are made
);
