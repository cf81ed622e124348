-- name: LeftOut
-- Readings of light per fixture and what was left out of the levels, by reason.
-- $1 DATE: first day
-- $2 DATE: last day
-- $3 VARCHAR: fixture, '' for all
SELECT
    fixture,
    count(*)                         AS days,
    CAST(sum(readings) AS BIGINT)    AS readings,
    CAST(sum(usable) AS BIGINT)      AS usable,
    CAST(sum(unlit) AS BIGINT)       AS unlit,
    CAST(sum(daylight) AS BIGINT)    AS daylight,
    CAST(sum(implausible) AS BIGINT) AS implausible,
    CAST(sum(running_up) AS BIGINT)  AS running_up,
    CAST(sum(edge) AS BIGINT)        AS edge,
    CAST(sum(stuck) AS BIGINT)       AS stuck,
    CAST(sum(odd_dim) AS BIGINT)     AS odd_dim,
    CAST(sum(odd_supply) AS BIGINT)  AS odd_supply,
    CAST(sum(shadowed) AS BIGINT)    AS shadowed,
    CAST(sum(conflicting) AS BIGINT) AS conflicting
FROM daily
WHERE day BETWEEN $1 AND $2 AND ($3 = '' OR fixture = $3)
GROUP BY fixture
ORDER BY fixture
