-- schema: daily
-- One row a fixture and local day: the roll-up of its readings.
CREATE TABLE daily (
    fixture       VARCHAR  NOT NULL, -- the fixture
    day           DATE     NOT NULL, -- local calendar day of the site
    hours         DOUBLE   NOT NULL, -- [h] length of the day (23 or 25 where the clock changes)
    sensor        VARCHAR  NOT NULL, -- instrument that read the light, '' = none
    channel       VARCHAR  NOT NULL, -- its channel
    readings      BIGINT   NOT NULL, -- readings of light that day
    usable        BIGINT   NOT NULL, -- readings behind ppfd
    ppfd          DOUBLE,            -- [umol/m2/s] median of the usable readings at the day's dim state
    spread        DOUBLE,            -- [1] relative standard deviation of the usable readings
    dim_pct       DOUBLE,            -- [%] set point, of full power
    supply_v      DOUBLE,            -- [V] supply, median at the usable moments
    ambient_c     DOUBLE,            -- [degC] ambient, mean at the usable moments
    power_w       DOUBLE,            -- [W] power, median at the usable moments
    current_a     DOUBLE,            -- [A] current, median at the usable moments
    lit_h         DOUBLE   NOT NULL, -- [h] between lit readings
    edge_h        DOUBLE   NOT NULL, -- [h] between a lit and an unlit reading
    gap_h         DOUBLE   NOT NULL, -- [h] that no readings cover
    starts        BIGINT   NOT NULL, -- times the lamp came on
    meter_first   DOUBLE,            -- [h] face of the run-hours meter at its first reading of the day
    meter_first_at TIMESTAMP,        -- [UTC] when that was
    meter_last    DOUBLE,            -- [h] face of the run-hours meter at its last reading of the day
    meter_last_at TIMESTAMP,         -- [UTC] when that was
    energy_first  DOUBLE,            -- [kWh] face of the energy meter at its first reading of the day
    energy_last   DOUBLE,            -- [kWh] the same at its last
    unlit         BIGINT   NOT NULL, -- readings left out: the lamp was off
    daylight      BIGINT   NOT NULL, -- readings left out: daylight in them
    implausible   BIGINT   NOT NULL, -- readings left out: no lamp gives that, or the head stood at its upper limit
    running_up    BIGINT   NOT NULL, -- readings left out: the lamp was still running up
    edge          BIGINT   NOT NULL, -- readings left out: next to a switching
    stuck         BIGINT   NOT NULL, -- readings left out: the sensor stood still
    odd_dim       BIGINT   NOT NULL, -- readings left out: at another set point than the day's
    odd_supply    BIGINT   NOT NULL, -- readings left out: supply voltage away from the day's
    shadowed      BIGINT   NOT NULL, -- readings left out: something stood in the light
    conflicting   BIGINT   NOT NULL  -- readings with another value at the same moment, never used
);
