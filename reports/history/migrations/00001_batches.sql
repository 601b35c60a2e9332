-- +goose Up
CREATE TABLE batches (
    id        INTEGER PRIMARY KEY,
    identity  TEXT NOT NULL UNIQUE, -- of the pieces and photos graded: grading them again replaces the batch
    name      TEXT NOT NULL,
    graded_at TEXT NOT NULL,        -- RFC 3339, UTC
    results   BLOB NOT NULL         -- results.json as it was, gzip
);
CREATE TABLE pieces (
    id       INTEGER PRIMARY KEY,
    batch_id INTEGER NOT NULL REFERENCES batches ON DELETE CASCADE,
    piece    TEXT NOT NULL,
    verdict  TEXT NOT NULL,
    powder   TEXT NOT NULL,
    sheet    TEXT NOT NULL,         -- its row of the batch sheet, JSON
    words    TEXT NOT NULL          -- all that finding looks in, lower case
);
CREATE INDEX pieces_of_batch ON pieces (batch_id);
CREATE TABLE measures (
    piece_id INTEGER NOT NULL REFERENCES pieces ON DELETE CASCADE,
    name     TEXT NOT NULL,         -- a kind of fault, or 'colour travel'
    faulty   INTEGER,               -- 0 or 1; null where it could not be judged or nothing can be faulty
    size     REAL                   -- null where not measured
);
CREATE INDEX measures_of_piece ON measures (piece_id);

-- +goose Down
DROP TABLE measures;
DROP TABLE pieces;
DROP TABLE batches;
