"""What was counted into a site's tables, in the state file: noted before the first file changes."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from picklist.evening.table_changes import CountedBefore, CountedItem, CountedSet, CountedShelf, RowChange
from picklist.store.state import StateFile
from picklist.store.typed_records import Rows
from picklist.tables.cells import plain_text
from picklist.tables.files import FileWrite

DONE, GIVEN_UP = "done", "given up"
SETTLED_LATELY = 7  # days: a site that settles does so each day, or after a weekend
_ITEMS, _SHELF = Rows("counted_item", CountedItem), Rows("counted_shelf", CountedShelf)
_SETS = Rows("counted_set", CountedSet)
_COUNTS: dict[str, Rows[Any]] = {"items": _ITEMS, "shelf": _SHELF, "sets": _SETS}  # by the fields of RowCounts


@dataclass(frozen=True, slots=True, kw_only=True)
class Unfinished:
    """A settlement whose files may not all be in place."""

    number: int
    day: date
    files: tuple[FileWrite, ...]


def load_counted(state: StateFile, day: date, items: Iterable[str], sets: Iterable[str]) -> CountedBefore:
    """What was counted of a day's carts, and of any cart for some items and sets."""
    with state.reading() as db:
        rows = db.execute("SELECT kept_as, cart_id FROM cart WHERE day = ? AND closed IS NULL", (day.isoformat(),))
        carts = {row["kept_as"]: str(row["cart_id"]) for row in rows}
        found = [*_rows(db, "counted_item", "cart", carts.values()), *_rows(db, "counted_item", "item", items)]
        shelf = db.execute("SELECT * FROM counted_shelf ORDER BY cart").fetchall()
        of_sets = _rows(db, "counted_set", "set_id", sets)
    wanted = {(row["cart"], row["item"], row["lot"], row["place"]): row for row in found}
    return CountedBefore(
        carts=carts,
        items=_ITEMS.read(wanted.values()),
        shelf=_SHELF.read(shelf),
        sets=_SETS.read(of_sets),
    )


def _rows(db: sqlite3.Connection, table: str, column: str, values: Iterable[str]) -> list[sqlite3.Row]:
    found: list[sqlite3.Row] = []
    for value in sorted({*values}):
        found += db.execute(f"SELECT * FROM {table} WHERE {column} = ?", (value,)).fetchall()
    return found


def carts_counted(state: StateFile, day: date) -> frozenset[str]:
    """The open carts of a day, as they are kept, whose goods were taken off the table of lots."""
    with state.reading() as db:
        rows = db.execute(
            """
            SELECT kept_as FROM cart WHERE day = ? AND closed IS NULL
            AND EXISTS (SELECT * FROM counted_item WHERE counted_item.cart = CAST(cart.cart_id AS TEXT))
            """,
            (day.isoformat(),),
        )
        return frozenset(row["kept_as"] for row in rows)


def sets_counted(state: StateFile, day: date) -> frozenset[str]:
    """The sets of a day's open carts of which settling has said in their table what became of them."""
    with state.reading() as db:
        rows = db.execute(
            "SELECT set_id FROM counted_set JOIN cart ON counted_set.cart = CAST(cart_id AS TEXT) "
            "WHERE day = ? AND closed IS NULL",
            (day.isoformat(),),
        )
        return frozenset(row["set_id"] for row in rows)


def first_unsettled(state: StateFile, today: date) -> date:
    """The first day of which the tables may not say what was used: the one after the last that was settled lately.

    Where no day was, nobody settles here, and the tables are kept by hand: then it is today.
    """
    last = (today - timedelta(days=SETTLED_LATELY)).isoformat()
    with state.reading() as db:
        row = db.execute(
            "SELECT max(day) FROM settlement WHERE how = ? AND day < ? AND day >= ?", (DONE, today.isoformat(), last)
        ).fetchone()
    return date.fromisoformat(row[0]) + timedelta(days=1) if row[0] else today


def settled_before(state: StateFile, day: date) -> datetime | None:
    """When an earlier version wrote a day into the tables, which did not remember what it counted."""
    with state.reading() as db:
        row = db.execute("SELECT at FROM settled_before WHERE day = ?", (day.isoformat(),)).fetchone()
    return datetime.fromisoformat(row["at"]) if row else None


def begin_settlement(
    state: StateFile, day: date, files: Sequence[FileWrite], rows: Sequence[tuple[str, RowChange]], now: datetime
) -> int:
    """Note what is about to be written: its files, and each row with its file (empty where nothing changes)."""
    told = [[one.file, one.former, one.new, one.part, one.kept] for one in files]
    with state.writing() as db:
        cursor = db.execute(
            "INSERT INTO settlement (day, made_at, files, counts) VALUES (?, ?, ?, ?)",
            (day.isoformat(), now.isoformat(), json.dumps(told), json.dumps([_row_data(*one) for one in rows])),
        )
        return int(cursor.lastrowid or 0)


def finish_settlement(state: StateFile, number: int, placed: Iterable[str]) -> None:
    """Let what was written into the files that are in place, and what changed no file, stand counted."""
    there = {*placed}
    with state.writing() as db:
        row = db.execute("SELECT * FROM settlement WHERE settlement_id = ? AND how IS NULL", (number,)).fetchone()
        if row is None:
            return
        counts = [one for one in json.loads(row["counts"]) if one["file"] in there or (not one["file"] and there)]
        for one in counts:
            _keep(db, row["day"], row["made_at"], one)
        db.execute("UPDATE settlement SET how = ? WHERE settlement_id = ?", (DONE if there else GIVEN_UP, number))


def unfinished(state: StateFile) -> tuple[Unfinished, ...]:
    """Settlements that were noted and did not come to their end."""
    with state.reading() as db:
        rows = db.execute("SELECT * FROM settlement WHERE how IS NULL ORDER BY settlement_id").fetchall()
    return tuple(
        Unfinished(
            number=row["settlement_id"],
            day=date.fromisoformat(row["day"]),
            files=tuple(
                FileWrite(file=f, former=o, new=n, part=p, kept=k) for f, o, n, p, k in json.loads(row["files"])
            ),
        )
        for row in rows
    )


def _row_data(file: str, row: RowChange) -> dict[str, Any]:
    changes = [
        [c.table, " / ".join(c.key), c.column, plain_text(c.was), plain_text(c.becomes), c.why] for c in row.changes
    ]
    kept = {name: [[*rows.cells(one).values()] for one in getattr(row.counts, name)] for name, rows in _COUNTS.items()}
    return {"file": file, "changes": changes, **kept}


def _keep(db: sqlite3.Connection, day: str, at: str, counts: dict[str, Any]) -> None:
    for name, rows in _COUNTS.items():
        for cells in counts[name]:
            db.execute(f"INSERT OR REPLACE INTO {rows.table} VALUES ({', '.join('?' * len(cells))})", cells)
    db.executemany(
        """
        INSERT INTO table_change (day, table_name, row_key, column_name, was, becomes, why, made_at, applied_at)
        VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)
        """,
        [(day, *change, at, at) for change in counts["changes"]],
    )
