"""What was changed in the site's tables after a day, in the state file."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from picklist.evening.state import State
from picklist.evening.table_changes import TableChange
from picklist.tables.write import plain_text


def log_changes(state: State, day: date, changes: Sequence[TableChange], made_at: datetime, *, applied: bool) -> None:
    """Keep which cells were changed (``applied``) or only proposed, from what to what and why."""
    with state.writing() as db:
        db.executemany(
            """
            INSERT INTO table_change
                (day, table_name, row_key, column_name, was, becomes, why, made_at, applied_at)
            VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)
            """,
            [
                (
                    day.isoformat(),
                    change.table,
                    " / ".join(change.key),
                    change.column,
                    plain_text(change.was),
                    plain_text(change.becomes),
                    change.why,
                    made_at.isoformat(),
                    made_at.isoformat() if applied else None,
                )
                for change in changes
            ],
        )


def change_log(state: State, day: date) -> tuple[tuple[str, str, str, str, str, bool], ...]:
    """The changes kept for a day: table, row, column, was, becomes, whether applied."""
    with state.reading() as db:
        rows = db.execute("SELECT * FROM table_change WHERE day = ? ORDER BY change_id", (day.isoformat(),)).fetchall()
    return tuple(
        (r["table_name"], r["row_key"], r["column_name"], r["was"], r["becomes"], r["applied_at"] is not None)
        for r in rows
    )
