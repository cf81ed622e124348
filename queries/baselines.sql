-- name: MakeBaselines
-- What 100 % is of each lamp life: the median output of its first days after the seasoning.
-- own to this engine: median
SELECT
    fixture, lamp_life, baseline, baseline_raw,
    median(abs(output - baseline)) AS deviation -- umol/m2/s, of those days
FROM (
    SELECT
        o.life, o.fixture, o.lamp_life, o.output,
        median(o.output)     OVER (PARTITION BY o.life) AS baseline,    -- umol/m2/s, corrected
        median(o.output_raw) OVER (PARTITION BY o.life) AS baseline_raw -- umol/m2/s at full power, otherwise as read
    FROM outputs o
    JOIN lives l ON l.life = o.life AND o.day BETWEEN l.base_first AND l.base_last
    WHERE o.output IS NOT NULL
) AS first_days
GROUP BY life, fixture, lamp_life, baseline, baseline_raw
ORDER BY life
