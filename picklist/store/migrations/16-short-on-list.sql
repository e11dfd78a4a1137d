-- What a printed list asked for and no shelf gave: to be reported missing, it takes nothing off the cart.

CREATE TABLE list_short (
    cart_id INTEGER NOT NULL,
    revision INTEGER NOT NULL,
    thing TEXT NOT NULL,
    person TEXT NOT NULL,
    quantity INTEGER NOT NULL CHECK (quantity > 0),
    PRIMARY KEY (cart_id, revision, thing, person),
    FOREIGN KEY (cart_id, revision) REFERENCES cart_list
);
