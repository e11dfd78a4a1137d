"""The offices' cards: the log of changes, requests and answers, rejections, proposals that wait, workbooks sent.

A ``record`` is the JSON of a dataclass (see ``store.records``). The log is only added to. ``card_file`` names
the files of an earlier version that were brought in, by the mark of their contents.
"""

from __future__ import annotations

LOG = ("card_change", "card_request", "card_answer", "card_rejection")

STATEMENTS = (
    *(f"CREATE TABLE {table} (number INTEGER PRIMARY KEY, record TEXT NOT NULL)" for table in LOG),
    *(
        f"CREATE TRIGGER {table}_{verb.lower()} BEFORE {verb} ON {table} "
        "BEGIN SELECT RAISE(ABORT, 'the log is only added to'); END"
        for table in LOG
        for verb in ("UPDATE", "DELETE")
    ),
    "CREATE TABLE card_write (number INTEGER PRIMARY KEY, record TEXT NOT NULL, how TEXT)",
    "CREATE TABLE card_proposal (id TEXT PRIMARY KEY, record TEXT NOT NULL)",
    "CREATE TABLE card_sent (version TEXT PRIMARY KEY, record TEXT NOT NULL)",
    "CREATE TABLE card_file (digest TEXT PRIMARY KEY, file TEXT NOT NULL)",
)
