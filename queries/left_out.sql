-- name: LeftOut
-- Readings of light per fixture and what was left out of the levels, by reason.
-- $1 DATE: first day
-- $2 DATE: last day
-- $3 VARCHAR: fixture, '' for all
SELECT
    fixture,
    count(*)          AS days,
    sum(readings)::BIGINT    AS readings,
    sum(usable)::BIGINT      AS usable,
    sum(unlit)::BIGINT       AS unlit,
    sum(daylight)::BIGINT    AS daylight,
    sum(implausible)::BIGINT AS implausible,
    sum(running_up)::BIGINT  AS running_up,
    sum(edge)::BIGINT        AS edge,
    sum(stuck)::BIGINT       AS stuck,
    sum(odd_dim)::BIGINT     AS odd_dim,
    sum(odd_supply)::BIGINT  AS odd_supply,
    sum(shadowed)::BIGINT    AS shadowed,
    sum(conflicting)::BIGINT AS conflicting
FROM daily
WHERE day BETWEEN $1 AND $2 AND ($3 = '' OR fixture = $3)
GROUP BY fixture
ORDER BY fixture
