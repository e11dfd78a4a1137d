-- Serial numbers of what was scanned, and lot, expiry and serial number of what was used.

ALTER TABLE built_item ADD COLUMN serial TEXT NOT NULL DEFAULT '';

CREATE TABLE usage_piece (
    day TEXT NOT NULL,
    number TEXT NOT NULL,
    kind TEXT NOT NULL,
    thing TEXT NOT NULL,
    person TEXT NOT NULL,
    set_id TEXT NOT NULL,
    lot TEXT NOT NULL,
    expiry TEXT,
    serial TEXT NOT NULL,
    used INTEGER NOT NULL CHECK (used >= 0)
);

CREATE INDEX piece_of_usage ON usage_piece (day, number, kind, thing, person, set_id);
