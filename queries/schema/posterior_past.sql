-- schema: posterior_past
-- Output of the lamps at hours already burned, as fitted, and what assumed drift would change.
CREATE TABLE posterior_past (
    fixture      VARCHAR NOT NULL, -- the fixture
    lamp_life    BIGINT  NOT NULL, -- which lamp in it
    run_hours    DOUBLE  NOT NULL, -- [h] of the lamp life
    ln_output    DOUBLE  NOT NULL, -- [1] natural logarithm of the output in umol/m2/s
    ln_output_sd DOUBLE  NOT NULL, -- [1] its standard deviation
    own_shift    DOUBLE  NOT NULL, -- [1] change of ln_output were the own sensor's drift 1 % a year higher
    site_shift   DOUBLE  NOT NULL  -- [1] change of ln_output were every sensor's drift 1 % a year higher
);
