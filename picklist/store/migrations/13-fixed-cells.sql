-- Cells that were fixed on the page and can be put back as they were.

CREATE TABLE cell_fix (number INTEGER PRIMARY KEY, record TEXT NOT NULL);
