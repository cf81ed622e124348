-- view: outputs
-- The same with what is not the lamp's taken out. This is the one place that says how an output is corrected.
-- Corrections are in ln: what each adds to ln(output_raw).
CREATE OR REPLACE TEMP VIEW outputs AS
WITH corrected AS (
    SELECT
        x.*, g.measured, g.known,
        CASE WHEN output_raw IS NOT NULL THEN coalesce(-g.per_day * date_diff('day', g.first_day, x.day), 0) END AS gain_ln
    FROM lit x
    LEFT JOIN gains g ON g.sensor = x.sensor AND x.day BETWEEN g.first_day AND g.last_day
)
SELECT *, output_raw * exp(gain_ln + supply_ln + ambient_ln) AS output
FROM corrected
