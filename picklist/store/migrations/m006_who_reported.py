"""Who reported each line and when, carts being scanned, trays that a built cart waits for, and files that were read."""

from __future__ import annotations

_LINES = ("built_set", "built_missing", "built_stood_in", "built_count", "built_item")

STATEMENTS = (
    # Empty in lines of before: they count as those of their report.
    *(f"ALTER TABLE {table} ADD COLUMN line_by TEXT" for table in _LINES),
    *(f"ALTER TABLE {table} ADD COLUMN line_at TEXT" for table in _LINES),
    "ALTER TABLE built_cart ADD COLUMN going_on INTEGER NOT NULL DEFAULT 0 CHECK (going_on IN (0, 1))",
    """
    CREATE TABLE built_to_come (
        built_id INTEGER NOT NULL REFERENCES built_cart,
        tray TEXT NOT NULL,
        copy INTEGER NOT NULL,
        set_id TEXT NOT NULL,
        expected TEXT NOT NULL,
        line_by TEXT,
        line_at TEXT
    )
    """,
    """
    CREATE TABLE scanned_file (
        day TEXT NOT NULL,
        digest TEXT NOT NULL,
        read_at TEXT NOT NULL,
        PRIMARY KEY (day, digest)
    )
    """,
)
