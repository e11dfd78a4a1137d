-- What becomes of a decision: its case's day, its matter in words, the moves decided on, what plans showed of it.

ALTER TABLE decision ADD COLUMN case_day TEXT NOT NULL DEFAULT '';
ALTER TABLE decision ADD COLUMN told_at TEXT;
ALTER TABLE decision ADD COLUMN matter TEXT NOT NULL DEFAULT '';
ALTER TABLE decision ADD COLUMN moves TEXT NOT NULL DEFAULT '[]';

UPDATE decision SET case_day = day, told_at = CASE told WHEN '' THEN NULL ELSE decided_at END;

CREATE INDEX decision_of_case ON decision (case_day, conflict, decision_id);

CREATE TABLE decision_seen (
    case_day TEXT NOT NULL,
    conflict TEXT NOT NULL,
    decided TEXT NOT NULL,
    plan_day TEXT NOT NULL,
    revision INTEGER NOT NULL,
    arrived INTEGER NOT NULL CHECK (arrived IN (0, 1)),
    PRIMARY KEY (case_day, conflict, decided, plan_day, revision)
);
