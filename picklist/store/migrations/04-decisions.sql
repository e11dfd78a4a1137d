-- What a person decided about a conflict.

CREATE TABLE decision (
    decision_id INTEGER PRIMARY KEY,
    day TEXT NOT NULL,
    conflict TEXT NOT NULL,
    decided TEXT NOT NULL,
    decided_by TEXT NOT NULL,
    decided_at TEXT NOT NULL
);

CREATE INDEX decision_on ON decision (day, conflict, decision_id);
