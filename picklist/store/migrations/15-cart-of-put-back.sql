-- The cart from which a thing is to be put back, whatever number its case has got since or who has that number now.

ALTER TABLE put_back ADD COLUMN cart_id INTEGER REFERENCES cart;

-- Of before: the cart that had the last list with that number.
UPDATE put_back SET cart_id = (
    SELECT cart_id FROM cart_list JOIN cart USING (cart_id)
    WHERE cart.day = put_back.day AND cart_list.number = put_back.number AND cart_list.revision < put_back.revision
    ORDER BY cart_list.revision DESC LIMIT 1
);
