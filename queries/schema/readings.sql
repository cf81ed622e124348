-- schema: readings
-- Every reading ever taken in. A site that has none yet has this empty table.
CREATE TABLE readings (
    sensor   VARCHAR   NOT NULL,
    channel  VARCHAR   NOT NULL,
    time     TIMESTAMP NOT NULL, -- UTC
    value    DOUBLE    NOT NULL, -- as the logger printed it, before the register's factor
    conflict BOOLEAN   NOT NULL  -- another value stands at the same moment: neither is used
);
