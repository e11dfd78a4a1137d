-- What the crew reported about carts; a later report on a cart takes the place of an earlier one.

CREATE TABLE built_cart (
    built_id INTEGER PRIMARY KEY,
    cart_id INTEGER NOT NULL REFERENCES cart,
    day TEXT NOT NULL,
    number TEXT NOT NULL,
    revision INTEGER NOT NULL,
    built_at TEXT NOT NULL,
    told_at TEXT NOT NULL,
    told_from TEXT NOT NULL,
    done INTEGER NOT NULL CHECK (done IN (0, 1)),
    built_by TEXT NOT NULL,
    remark TEXT NOT NULL
);

CREATE INDEX built_of_cart ON built_cart (cart_id, built_id);

CREATE TABLE built_set (
    built_id INTEGER NOT NULL REFERENCES built_cart,
    tray TEXT NOT NULL,
    copy INTEGER NOT NULL,
    set_id TEXT NOT NULL
);

CREATE TABLE built_missing (
    built_id INTEGER NOT NULL REFERENCES built_cart,
    thing TEXT NOT NULL,
    copy INTEGER NOT NULL,
    person TEXT NOT NULL,
    quantity INTEGER NOT NULL
);

CREATE TABLE built_stood_in (
    built_id INTEGER NOT NULL REFERENCES built_cart,
    thing TEXT NOT NULL,
    stood_in TEXT NOT NULL,
    person TEXT NOT NULL,
    quantity INTEGER NOT NULL
);

CREATE TABLE built_count (
    built_id INTEGER NOT NULL REFERENCES built_cart,
    item TEXT NOT NULL,
    lot TEXT NOT NULL,
    place TEXT NOT NULL,
    quantity INTEGER NOT NULL
);

CREATE TABLE built_item (
    built_id INTEGER NOT NULL REFERENCES built_cart,
    item TEXT NOT NULL,
    lot TEXT NOT NULL,
    expiry TEXT,
    quantity INTEGER NOT NULL,
    by_hand INTEGER NOT NULL CHECK (by_hand IN (0, 1))
);
