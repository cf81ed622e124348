-- schema: files
-- One row a file taken in, with what became of its rows: rows = stored + duplicate + quarantined.
CREATE TABLE files (
    sequence           BIGINT    NOT NULL, -- 1, 2, 3 … in the order of taking in
    sha256             VARCHAR   NOT NULL, -- of its bytes, by which the original is kept
    name               VARCHAR   NOT NULL, -- where it lay in the inbox or in its source's folder
    source             VARCHAR   NOT NULL, -- the description that read it, '' for the plain forms
    description_sha256 VARCHAR   NOT NULL, -- of the text of that description, '' for the plain forms
    size               BIGINT    NOT NULL, -- [bytes] its length
    modified           TIMESTAMP NOT NULL, -- [UTC] when it was last changed
    taken_in           TIMESTAMP NOT NULL, -- [UTC] when it was taken in
    rows               BIGINT    NOT NULL, -- readings and rejects in it
    stored             BIGINT    NOT NULL, -- readings that were new
    duplicate          BIGINT    NOT NULL, -- readings that were stored already
    quarantined        BIGINT    NOT NULL, -- rejects
    blank              BIGINT    NOT NULL  -- cells declared missing, not among the rows
);
