-- Filled forms that were taken in, by the mark of their contents, and what they last said of each cart.

CREATE TABLE form_taken (digest TEXT PRIMARY KEY, form TEXT NOT NULL, taken_at TEXT NOT NULL);
CREATE TABLE form_said (day TEXT NOT NULL, number TEXT NOT NULL, digest TEXT NOT NULL, PRIMARY KEY (day, number));
