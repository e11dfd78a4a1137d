-- What was used and what came back unopened, and the rows of tables that follow from it.

CREATE TABLE usage_line (
    day TEXT NOT NULL,
    number TEXT NOT NULL,
    surgeon TEXT NOT NULL,
    procedures TEXT NOT NULL,
    kind TEXT NOT NULL,
    thing TEXT NOT NULL,
    person TEXT NOT NULL,
    set_id TEXT NOT NULL,
    open INTEGER NOT NULL CHECK (open >= 0),
    hold INTEGER NOT NULL CHECK (hold >= 0),
    added INTEGER NOT NULL CHECK (added >= 0),
    used INTEGER NOT NULL CHECK (used >= 0),
    unopened INTEGER NOT NULL CHECK (unopened >= 0),
    told_at TEXT NOT NULL,
    told_by TEXT NOT NULL,
    PRIMARY KEY (day, number, kind, thing, person, set_id)
);

CREATE INDEX usage_of_surgeon ON usage_line (surgeon, procedures);

CREATE TABLE table_change (
    change_id INTEGER PRIMARY KEY,
    day TEXT NOT NULL,
    table_name TEXT NOT NULL,
    row_key TEXT NOT NULL,
    column_name TEXT NOT NULL,
    was TEXT NOT NULL,
    becomes TEXT NOT NULL,
    why TEXT NOT NULL,
    made_at TEXT NOT NULL,
    applied_at TEXT
);
