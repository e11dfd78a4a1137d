-- The offices' cards: the log of changes, requests and answers, rejections, proposals that wait, workbooks sent.
--
-- A ``record`` is the JSON of a dataclass (see ``store.typed_records``). The log is only added to. ``card_file`` names
-- the files of an earlier version that were brought in, by the mark of their contents.

CREATE TABLE card_change (number INTEGER PRIMARY KEY, record TEXT NOT NULL);
CREATE TABLE card_request (number INTEGER PRIMARY KEY, record TEXT NOT NULL);
CREATE TABLE card_answer (number INTEGER PRIMARY KEY, record TEXT NOT NULL);
CREATE TABLE card_rejection (number INTEGER PRIMARY KEY, record TEXT NOT NULL);

CREATE TRIGGER card_change_update BEFORE UPDATE ON card_change
    BEGIN SELECT RAISE(ABORT, 'the log is only added to'); END;

CREATE TRIGGER card_change_delete BEFORE DELETE ON card_change
    BEGIN SELECT RAISE(ABORT, 'the log is only added to'); END;

CREATE TRIGGER card_request_update BEFORE UPDATE ON card_request
    BEGIN SELECT RAISE(ABORT, 'the log is only added to'); END;

CREATE TRIGGER card_request_delete BEFORE DELETE ON card_request
    BEGIN SELECT RAISE(ABORT, 'the log is only added to'); END;

CREATE TRIGGER card_answer_update BEFORE UPDATE ON card_answer
    BEGIN SELECT RAISE(ABORT, 'the log is only added to'); END;

CREATE TRIGGER card_answer_delete BEFORE DELETE ON card_answer
    BEGIN SELECT RAISE(ABORT, 'the log is only added to'); END;

CREATE TRIGGER card_rejection_update BEFORE UPDATE ON card_rejection
    BEGIN SELECT RAISE(ABORT, 'the log is only added to'); END;

CREATE TRIGGER card_rejection_delete BEFORE DELETE ON card_rejection
    BEGIN SELECT RAISE(ABORT, 'the log is only added to'); END;

CREATE TABLE card_write (number INTEGER PRIMARY KEY, record TEXT NOT NULL, how TEXT);
CREATE TABLE card_proposal (id TEXT PRIMARY KEY, record TEXT NOT NULL);
CREATE TABLE card_sent (version TEXT PRIMARY KEY, record TEXT NOT NULL);
CREATE TABLE card_file (digest TEXT PRIMARY KEY, file TEXT NOT NULL);
