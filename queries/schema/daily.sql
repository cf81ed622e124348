-- schema: daily
-- One row a fixture and local day, from transform/daily. A site that has none yet has this empty table.
CREATE TABLE daily (
    fixture       VARCHAR  NOT NULL,
    day           DATE     NOT NULL, -- local calendar day of the site
    hours         DOUBLE   NOT NULL, -- length of the day, h (23 or 25 where the clock changes)
    sensor        VARCHAR  NOT NULL, -- instrument that read the light, '' = none
    channel       VARCHAR  NOT NULL,
    readings      BIGINT   NOT NULL, -- of light that day
    usable        BIGINT   NOT NULL, -- readings behind ppfd
    ppfd          DOUBLE,            -- umol/m2/s, median of the usable readings at the day's dim state
    spread        DOUBLE,            -- relative sd of the usable readings
    dim_pct       DOUBLE,            -- per cent of full power
    supply_v      DOUBLE,            -- V, median at the usable moments
    ambient_c     DOUBLE,            -- degC, mean at the usable moments
    power_w       DOUBLE,            -- W, median at the usable moments
    current_a     DOUBLE,            -- A, median at the usable moments
    lit_h         DOUBLE   NOT NULL, -- h between lit readings
    edge_h        DOUBLE   NOT NULL, -- h between a lit and an unlit reading
    gap_h         DOUBLE   NOT NULL, -- h that no readings cover
    starts        BIGINT   NOT NULL, -- times the lamp came on
    meter_first   DOUBLE,            -- h, face of the run-hours meter at its first reading of the day
    meter_first_at TIMESTAMP,        -- UTC
    meter_last    DOUBLE,            -- h
    meter_last_at TIMESTAMP,         -- UTC
    energy_first  DOUBLE,            -- kWh
    energy_last   DOUBLE,            -- kWh
    unlit         BIGINT   NOT NULL, -- readings left out, by reason
    daylight      BIGINT   NOT NULL,
    implausible   BIGINT   NOT NULL,
    running_up    BIGINT   NOT NULL,
    edge          BIGINT   NOT NULL,
    stuck         BIGINT   NOT NULL,
    odd_dim       BIGINT   NOT NULL,
    odd_supply    BIGINT   NOT NULL,
    shadowed      BIGINT   NOT NULL,
    conflicting   BIGINT   NOT NULL  -- readings with another value at the same moment, never used
);
