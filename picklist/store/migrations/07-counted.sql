-- What was counted into the site's tables, cart by cart and thing by thing, and the writes that did it.

ALTER TABLE usage_line ADD COLUMN unopened_told INTEGER NOT NULL DEFAULT 1 CHECK (unopened_told IN (0, 1));

-- Before, what nobody wrote was stored as worked out from the list.
UPDATE usage_line SET unopened_told = 0
WHERE unopened = open + hold + added - max(open + added, used);

-- ``how`` is NULL from the moment before the first file is put in place until the last one stands.
CREATE TABLE settlement (
    settlement_id INTEGER PRIMARY KEY,
    day TEXT NOT NULL,
    made_at TEXT NOT NULL,
    files TEXT NOT NULL,
    counts TEXT NOT NULL,
    how TEXT
);

CREATE TABLE counted_item (
    cart TEXT NOT NULL,
    item TEXT NOT NULL,
    lot TEXT NOT NULL,
    place TEXT NOT NULL,
    row_lot TEXT NOT NULL,
    row_place TEXT NOT NULL,
    taken INTEGER NOT NULL CHECK (taken >= 0),
    back INTEGER NOT NULL CHECK (back >= 0),
    built_at TEXT NOT NULL,
    over_at TEXT NOT NULL,
    PRIMARY KEY (cart, item, lot, place)
);

CREATE INDEX counted_of_lot ON counted_item (item, row_lot, row_place);

CREATE TABLE counted_shelf (
    cart TEXT NOT NULL,
    item TEXT NOT NULL,
    row_lot TEXT NOT NULL,
    row_place TEXT NOT NULL,
    counted_at TEXT NOT NULL,
    quantity INTEGER NOT NULL,
    PRIMARY KEY (cart, item, row_lot, row_place)
);

CREATE TABLE counted_set (
    cart TEXT NOT NULL,
    set_id TEXT NOT NULL,
    opened INTEGER NOT NULL CHECK (opened IN (0, 1)),
    since TEXT NOT NULL,
    written INTEGER NOT NULL CHECK (written IN (0, 1)),
    recorded_at TEXT,
    recorded_until TEXT,
    PRIMARY KEY (cart, set_id)
);

-- Days that a version wrote which did not yet remember its counts: nothing of them is counted again.
CREATE TABLE settled_before (day TEXT PRIMARY KEY, at TEXT NOT NULL);

INSERT INTO settled_before
SELECT day, max(applied_at) FROM table_change WHERE applied_at IS NOT NULL GROUP BY day;
