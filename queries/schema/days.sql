-- schema: days
-- One row a part of the readings and local day: a digest, by which a night sees which days changed.
CREATE TABLE days (
    part     VARCHAR NOT NULL, -- SHA-256 of the part
    day      DATE    NOT NULL, -- local calendar day of the site
    readings BIGINT  NOT NULL, -- readings of that day in the part
    digest   BIGINT  NOT NULL  -- sum of a hash of each, modulo 2^64
);
