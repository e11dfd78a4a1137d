-- Who reported each line and when, carts being scanned, trays that a built cart waits for, and files that were read.

-- Empty in lines of before: they count as those of their report.
ALTER TABLE built_set ADD COLUMN line_by TEXT;
ALTER TABLE built_missing ADD COLUMN line_by TEXT;
ALTER TABLE built_stood_in ADD COLUMN line_by TEXT;
ALTER TABLE built_count ADD COLUMN line_by TEXT;
ALTER TABLE built_item ADD COLUMN line_by TEXT;
ALTER TABLE built_set ADD COLUMN line_at TEXT;
ALTER TABLE built_missing ADD COLUMN line_at TEXT;
ALTER TABLE built_stood_in ADD COLUMN line_at TEXT;
ALTER TABLE built_count ADD COLUMN line_at TEXT;
ALTER TABLE built_item ADD COLUMN line_at TEXT;
ALTER TABLE built_cart ADD COLUMN going_on INTEGER NOT NULL DEFAULT 0 CHECK (going_on IN (0, 1));

CREATE TABLE built_to_come (
    built_id INTEGER NOT NULL REFERENCES built_cart,
    tray TEXT NOT NULL,
    copy INTEGER NOT NULL,
    set_id TEXT NOT NULL,
    expected TEXT NOT NULL,
    line_by TEXT,
    line_at TEXT
);

CREATE TABLE scanned_file (
    day TEXT NOT NULL,
    digest TEXT NOT NULL,
    read_at TEXT NOT NULL,
    PRIMARY KEY (day, digest)
);
