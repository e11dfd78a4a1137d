BEGIN TRANSACTION;
CREATE TABLE answers (
  number INTEGER PRIMARY KEY, request INTEGER NOT NULL REFERENCES requests (number),
  at TEXT NOT NULL, by TEXT NOT NULL, answer TEXT NOT NULL);
INSERT INTO "answers" VALUES(1,1,'2026-11-26T15:04:00+00:00','R. Vane','ordered; here from January');
CREATE TABLE changes (
  number INTEGER PRIMARY KEY, at TEXT NOT NULL, by TEXT NOT NULL, reason TEXT NOT NULL,
  surgeon TEXT NOT NULL, service TEXT NOT NULL, procedure TEXT, slot TEXT NOT NULL,
  before TEXT, after TEXT, beneath TEXT, effective TEXT NOT NULL, source TEXT NOT NULL,
  undoes INTEGER REFERENCES changes (number), lines TEXT NOT NULL, until TEXT, stood TEXT);
INSERT INTO "changes" VALUES(1,'2026-11-26T15:02:00+00:00','R. Vane','as asked','S01','','KNEE','{"kind": "item", "thing": "100001"}','{"kind": "item", "thing": "100001", "open": 2, "hold": 1}','{"kind": "item", "thing": "100001", "open": 5, "hold": 1}','{"kind": "item", "thing": "100001", "open": 2, "hold": 1}','2026-11-26','b5.xlsx, proposal S01-77de6c',NULL,'["new: KNEE, S01: replace item 100001 (5 open and 1 hold) from 2026-11-26"]',NULL,'[null, null, false, false]');
INSERT INTO "changes" VALUES(2,'2026-11-26T15:03:00+00:00','R. Vane','as asked','S01','','KNEE','{"kind": "item", "thing": "100001"}','{"kind": "item", "thing": "100001", "open": 5, "hold": 1}','{"kind": "item", "thing": "100001", "open": 2, "hold": 1}','{"kind": "item", "thing": "100001", "open": 2, "hold": 1}','2026-11-26','undo of change 1',1,'["taken out: KNEE, S01: replace item 100001 (5 open and 1 hold) from 2026-11-26"]',NULL,'[null, null, false, false]');
CREATE TABLE finished (write INTEGER PRIMARY KEY REFERENCES writes (number), how TEXT NOT NULL);
INSERT INTO "finished" VALUES(1,'done');
INSERT INTO "finished" VALUES(2,'done');
CREATE TABLE rejected (
  number INTEGER PRIMARY KEY, at TEXT NOT NULL, by TEXT NOT NULL, reason TEXT NOT NULL, proposal TEXT NOT NULL,
  surgeon TEXT NOT NULL, service TEXT NOT NULL, file TEXT NOT NULL, changes TEXT NOT NULL);
INSERT INTO "rejected" VALUES(1,'2026-11-26T15:12:00+00:00','R. Vane','two are enough','S01-bd81a3','S01','','b7.xlsx','[["KNEE", "changed: Suture 2-0 (100001), 2 open and 1 hold -> Suture 2-0 (100001), 7 open and 1 hold"]]');
CREATE TABLE requests (
  number INTEGER PRIMARY KEY, at TEXT NOT NULL, surgeon TEXT NOT NULL, service TEXT NOT NULL, procedure TEXT,
  text TEXT NOT NULL, open TEXT NOT NULL, hold TEXT NOT NULL, why TEXT NOT NULL,
  file TEXT NOT NULL, version TEXT NOT NULL);
INSERT INTO "requests" VALUES(1,'2026-11-26T15:01:00+00:00','S01','','KNEE','Soft retractor, number 12','2','','slips less','b5.xlsx','EAE3-98A9');
INSERT INTO "requests" VALUES(2,'2026-11-26T15:11:00+00:00','S01','','KNEE','Green drape','2','','slips less','b7.xlsx','EAE3-98A9');
CREATE TABLE writes (number INTEGER PRIMARY KEY, files TEXT NOT NULL, entries TEXT NOT NULL);
INSERT INTO "writes" VALUES(1,'[["cards.xlsx", "854414c4ecb5e9ba3cda3ed00e56999d9d546321c05bdcb45dc6e00c0d491fef", "ff064945eca3bfe7eb65e6c5820bbcf95f2bd41c83977c9af8b154f9887bf563", ".cards.ff064945eca3.part"]]','[["2026-11-26T15:02:00+00:00", "R. Vane", "as asked", "S01", "", "KNEE", "{\"kind\": \"item\", \"thing\": \"100001\"}", "{\"kind\": \"item\", \"thing\": \"100001\", \"open\": 2, \"hold\": 1}", "{\"kind\": \"item\", \"thing\": \"100001\", \"open\": 5, \"hold\": 1}", "{\"kind\": \"item\", \"thing\": \"100001\", \"open\": 2, \"hold\": 1}", "2026-11-26", "b5.xlsx, proposal S01-77de6c", null, "[\"new: KNEE, S01: replace item 100001 (5 open and 1 hold) from 2026-11-26\"]", null, "[null, null, false, false]"]]');
INSERT INTO "writes" VALUES(2,'[["cards.xlsx", "ff064945eca3bfe7eb65e6c5820bbcf95f2bd41c83977c9af8b154f9887bf563", "733f90a8ef5c93648850e86910f6ced3dbaf3daf1a074913a7edccac1b471803", ".cards.733f90a8ef5c.part"]]','[["2026-11-26T15:03:00+00:00", "R. Vane", "as asked", "S01", "", "KNEE", "{\"kind\": \"item\", \"thing\": \"100001\"}", "{\"kind\": \"item\", \"thing\": \"100001\", \"open\": 5, \"hold\": 1}", "{\"kind\": \"item\", \"thing\": \"100001\", \"open\": 2, \"hold\": 1}", "{\"kind\": \"item\", \"thing\": \"100001\", \"open\": 2, \"hold\": 1}", "2026-11-26", "undo of change 1", 1, "[\"taken out: KNEE, S01: replace item 100001 (5 open and 1 hold) from 2026-11-26\"]", null, "[null, null, false, false]"]]');
CREATE TRIGGER changes_update BEFORE UPDATE ON changes BEGIN SELECT RAISE(ABORT, 'the log is only added to'); END;
CREATE TRIGGER changes_delete BEFORE DELETE ON changes BEGIN SELECT RAISE(ABORT, 'the log is only added to'); END;
CREATE TRIGGER writes_update BEFORE UPDATE ON writes BEGIN SELECT RAISE(ABORT, 'the log is only added to'); END;
CREATE TRIGGER writes_delete BEFORE DELETE ON writes BEGIN SELECT RAISE(ABORT, 'the log is only added to'); END;
CREATE TRIGGER finished_update BEFORE UPDATE ON finished BEGIN SELECT RAISE(ABORT, 'the log is only added to'); END;
CREATE TRIGGER finished_delete BEFORE DELETE ON finished BEGIN SELECT RAISE(ABORT, 'the log is only added to'); END;
CREATE TRIGGER requests_update BEFORE UPDATE ON requests BEGIN SELECT RAISE(ABORT, 'the log is only added to'); END;
CREATE TRIGGER requests_delete BEFORE DELETE ON requests BEGIN SELECT RAISE(ABORT, 'the log is only added to'); END;
CREATE TRIGGER answers_update BEFORE UPDATE ON answers BEGIN SELECT RAISE(ABORT, 'the log is only added to'); END;
CREATE TRIGGER answers_delete BEFORE DELETE ON answers BEGIN SELECT RAISE(ABORT, 'the log is only added to'); END;
CREATE TRIGGER rejected_update BEFORE UPDATE ON rejected BEGIN SELECT RAISE(ABORT, 'the log is only added to'); END;
CREATE TRIGGER rejected_delete BEFORE DELETE ON rejected BEGIN SELECT RAISE(ABORT, 'the log is only added to'); END;
COMMIT;
