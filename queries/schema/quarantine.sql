-- schema: quarantine
-- One row a reject: what of a file did not pass, and why.
CREATE TABLE quarantine (
    sequence  BIGINT    NOT NULL, -- of the file
    sha256    VARCHAR   NOT NULL, -- of the file
    name      VARCHAR   NOT NULL, -- where the file lay
    taken_in  TIMESTAMP NOT NULL, -- [UTC] when the file was taken in
    line      BIGINT    NOT NULL, -- line of the file, 1 = first, 0 = the file as a whole
    last_line BIGINT    NOT NULL, -- the last, where the row stands for several
    rows      BIGINT    NOT NULL, -- readings or lines that the row stands for
    "column"  VARCHAR   NOT NULL, -- column of the file, '' = the line
    code      VARCHAR   NOT NULL, -- short class of what is wrong
    reason    VARCHAR   NOT NULL, -- what is wrong and what would mend it
    text      VARCHAR   NOT NULL  -- the offending text, at most 200 bytes
);
