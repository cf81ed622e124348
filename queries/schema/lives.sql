-- schema: lives
-- One row a lamp life, as of the last day: what the register and the record say of it.
CREATE TABLE lives (
    life           BIGINT NOT NULL,  -- key of the life, in order of fixture and lamp_life
    fixture        VARCHAR NOT NULL, -- the fixture
    lamp_life      BIGINT NOT NULL,  -- which lamp in it
    lamp_type      VARCHAR NOT NULL, -- of the lamp
    cohort         VARCHAR NOT NULL, -- '' = not known
    gear           VARCHAR NOT NULL, -- '' = not known
    room           VARCHAR NOT NULL, -- where it hangs on the last day
    bay            VARCHAR NOT NULL, -- its bay
    circuit        VARCHAR NOT NULL, -- its circuit
    hung_day       DATE NOT NULL,    -- when the fixture was hung, for its dirt
    first_day      DATE NOT NULL,    -- of the life in the record
    last_day       DATE NOT NULL,    -- before first_day where it has no day yet
    read_from      DATE NOT NULL,    -- first day whose light is this lamp's alone
    ended          VARCHAR NOT NULL, -- what ended it: relamp, fail, retire; '' = nothing
    record_day     DATE,             -- first day with a row in table daily
    read_day       DATE,             -- last day with a reading of its light
    sensor         VARCHAR NOT NULL, -- that read its light last, '' = none
    sensors        VARCHAR NOT NULL, -- that have read its light, in order, separated by line feeds
    start_hours    DOUBLE NOT NULL,  -- [h] it had burned when put in
    run_hours      DOUBLE NOT NULL,  -- [h] at its last day
    run_hours_lo   DOUBLE NOT NULL,  -- [h] the least that the evidence allows
    run_hours_hi   DOUBLE NOT NULL,  -- [h] the most
    season_h       DOUBLE NOT NULL,  -- [h] before which there is no level
    base_first     DATE,             -- first day of its baseline
    base_last      DATE,             -- last day of its baseline
    base_days      BIGINT NOT NULL,  -- days that the baseline rests on
    base_hours     DOUBLE,           -- [h] run-hours on the first of them
    late_baseline  BOOLEAN NOT NULL, -- 100 % is the lamp at that age, not when new
    short_baseline BOOLEAN NOT NULL, -- the baseline rests on fewer days than asked for
    reference_v    DOUBLE,           -- [V] to which light is brought
    reference_c    DOUBLE NOT NULL,  -- [degC] to which light is brought
    supply_coef    DOUBLE NOT NULL,  -- [1] per cent of light per per cent of voltage
    ambient_coef   DOUBLE NOT NULL,  -- [1/degC] relative change of light
    threshold      DOUBLE,           -- [1] level at which it is due, where that is declared as a level
    threshold_ppfd DOUBLE,           -- [umol/m2/s] where it is declared as light
    energy_h       DOUBLE,           -- [h] a day by an energy meter over rated power
    energy_days    BIGINT NOT NULL,  -- days that energy_h rests on
    sunlit         BOOLEAN NOT NULL, -- its light follows the sun, and the site does not say so
    said           VARCHAR NOT NULL  -- what was assumed about its hours, separated by line feeds
);
