-- A mark made of a site's first plan; it stays when that plan gets its remedies.

ALTER TABLE plan ADD COLUMN mark TEXT;
