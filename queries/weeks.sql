-- name: HoldWeeks
-- Table weeks: the output of each lamp life by week of seven days, as the forecast takes it in, brought to the reference
-- supply and temperature; life gives the order. Sums are of decimals, which come to the same in any order; a median
-- does not depend on it.
-- own to this engine: median
-- $1 DATE: first day of the first week
-- $2 DATE: last day of the last week
-- $3 DOUBLE: run-hours before which a lamp's output is not settled
WITH days AS (
    SELECT
        life, fixture, lamp_life, day, date_diff('day', DATE '1970-01-01', day) AS n, run_hours,
        output_raw, supply_ln, ambient_ln, dim_pct / 100 AS dim, volts_ln, ambient_c
    FROM lit
    WHERE day BETWEEN $1 AND $2 AND run_hours >= $3 AND output_raw > 0 AND NOT repeats
), repeated AS (
    -- a value that stands still from one day to the next is a stuck logger's: the first such day too
    SELECT fixture, lamp_life, CAST(day - INTERVAL 1 DAY AS DATE) AS day
    FROM hours
    WHERE repeats AND day > $1 AND CAST(day - INTERVAL 1 DAY AS DATE) <= $2
), weekly AS (
    SELECT
        d.life, CAST(floor(n / 7.0) AS INTEGER) AS week, count(*) AS n,
        CAST(sum(CAST(run_hours AS DECIMAL(18, 9))) AS DOUBLE) / count(*)                 AS run_hours,
        -- supply and temperature are taken out by the day: a week's median beside a mean of its supply would put a
        -- step between the two
        median(ln(output_raw) + supply_ln + ambient_ln)                                   AS ln_output,
        CAST(sum(CAST(dim AS DECIMAL(18, 12))) AS DOUBLE) / count(*)                      AS dim,
        CAST(sum(CAST(volts_ln AS DECIMAL(18, 15))) AS DOUBLE) / nullif(count(volts_ln), 0)    AS supply_ln,
        CAST(sum(CAST(ambient_c AS DECIMAL(18, 12))) AS DOUBLE) / nullif(count(ambient_c), 0) AS ambient_c
    FROM days d
    LEFT JOIN repeated r ON r.fixture = d.fixture AND r.lamp_life = d.lamp_life AND r.day = d.day
    WHERE r.day IS NULL
    GROUP BY d.life, CAST(floor(n / 7.0) AS INTEGER)
)
SELECT
    w.life, l.fixture, l.lamp_life, DATE '1970-01-01' + CAST(7 * w.week + 3 AS INTEGER) AS day,
    p.period, q.placement, w.n, w.run_hours, w.ln_output, w.dim, w.supply_ln, w.ambient_c
FROM weekly w
JOIN lives l ON l.life = w.life
LEFT JOIN sensor_periods p ON p.fixture = l.fixture AND DATE '1970-01-01' + CAST(7 * w.week + 3 AS INTEGER) BETWEEN p.first_day AND p.last_day
LEFT JOIN placements q ON q.fixture = l.fixture AND DATE '1970-01-01' + CAST(7 * w.week + 3 AS INTEGER) BETWEEN q.first_day AND q.last_day
