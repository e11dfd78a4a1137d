-- Plans, the carts they are about, the lists that were printed, put-backs and open questions.

CREATE TABLE plan (
    day TEXT NOT NULL,
    revision INTEGER NOT NULL CHECK (revision >= 1),
    replaces INTEGER,
    made_at TEXT NOT NULL,
    made_by TEXT NOT NULL DEFAULT '',
    digest TEXT NOT NULL,
    json BLOB NOT NULL,
    PRIMARY KEY (day, revision)
);

-- A cart is one thing on wheels for one case, whatever numbers and lists the case goes through.
CREATE TABLE cart (
    cart_id INTEGER PRIMARY KEY,
    day TEXT NOT NULL,
    number TEXT NOT NULL,
    kept_as TEXT NOT NULL,
    opened INTEGER NOT NULL,
    closed INTEGER
);

CREATE UNIQUE INDEX open_cart ON cart (day, kept_as) WHERE closed IS NULL;

CREATE TABLE cart_list (
    cart_id INTEGER NOT NULL REFERENCES cart,
    revision INTEGER NOT NULL,
    number TEXT NOT NULL,
    replaces INTEGER,
    made_at TEXT NOT NULL,
    room TEXT NOT NULL,
    start_at TEXT NOT NULL,
    surgeon TEXT NOT NULL,
    procedures TEXT NOT NULL,
    PRIMARY KEY (cart_id, revision)
);

CREATE INDEX list_of_number ON cart_list (number, revision);

CREATE TABLE list_piece (
    cart_id INTEGER NOT NULL,
    revision INTEGER NOT NULL,
    kind TEXT NOT NULL,
    thing TEXT NOT NULL,
    wanted TEXT NOT NULL,
    part TEXT NOT NULL,
    set_id TEXT NOT NULL,
    copy INTEGER NOT NULL,
    lot TEXT NOT NULL,
    place TEXT NOT NULL,
    person TEXT NOT NULL,
    name TEXT NOT NULL,
    expiry TEXT,
    home TEXT NOT NULL,
    quantity INTEGER NOT NULL CHECK (quantity > 0),
    FOREIGN KEY (cart_id, revision) REFERENCES cart_list
);

CREATE INDEX piece_of_list ON list_piece (cart_id, revision);

CREATE TABLE put_back (
    put_back_id INTEGER PRIMARY KEY,
    day TEXT NOT NULL,
    revision INTEGER NOT NULL,
    number TEXT NOT NULL,
    kind TEXT NOT NULL,
    thing TEXT NOT NULL,
    set_id TEXT NOT NULL,
    lot TEXT NOT NULL,
    quantity INTEGER NOT NULL,
    home TEXT NOT NULL,
    to_cart TEXT NOT NULL,
    done_at TEXT,
    done_by TEXT NOT NULL DEFAULT ''
);

CREATE TABLE open_question (
    day TEXT NOT NULL,
    new_case TEXT NOT NULL,
    kept_as TEXT NOT NULL,
    score INTEGER NOT NULL,
    agrees TEXT NOT NULL,
    differs TEXT NOT NULL,
    asked_in INTEGER NOT NULL,
    PRIMARY KEY (day, new_case, kept_as)
);
