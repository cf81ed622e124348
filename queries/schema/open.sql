-- schema: open
-- Rows of daily after the days that are settled: what a night still reads. 
CREATE TABLE open (
    fixture       VARCHAR  NOT NULL, -- the fixture
    day           DATE     NOT NULL, -- local calendar day of the site
    hours         DOUBLE   NOT NULL, -- [h] length of the day (23 or 25 where the clock changes)
    sensor        VARCHAR  NOT NULL, -- instrument that read the light, '' = none
    readings      BIGINT   NOT NULL, -- readings of light that day
    ppfd          DOUBLE,            -- [umol/m2/s] median of the usable readings at the day's dim state
    dim_pct       DOUBLE,            -- [%] set point, of full power
    supply_v      DOUBLE,            -- [V] supply, median at the usable moments
    ambient_c     DOUBLE,            -- [degC] ambient, mean at the usable moments
    lit_h         DOUBLE   NOT NULL, -- [h] between lit readings
    edge_h        DOUBLE   NOT NULL, -- [h] between a lit and an unlit reading
    gap_h         DOUBLE   NOT NULL, -- [h] that no readings cover
    meter_first   DOUBLE,            -- [h] face of the run-hours meter at its first reading of the day
    meter_first_at TIMESTAMP,        -- [UTC] when that was
    meter_last    DOUBLE,            -- [h] face of the run-hours meter at its last reading of the day
    meter_last_at TIMESTAMP          -- [UTC] when that was
);
