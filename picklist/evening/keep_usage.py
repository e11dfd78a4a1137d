"""Usage of past cases in the state file."""

from __future__ import annotations

import sqlite3
from collections import defaultdict
from collections.abc import Sequence
from datetime import date, datetime

from picklist.evening.keep_plans import WORD_GAP
from picklist.evening.usage import UsageLine, UsedPackage
from picklist.model.cards import ThingKind
from picklist.store.state import StateFile

_OF_LINE = "day = ? AND number = ? AND kind = ? AND thing = ? AND person = ? AND set_id = ?"


def record_usage(state: StateFile, lines: Sequence[UsageLine], told_at: datetime, told_by: str = "") -> None:
    """Keep what was used, all or nothing; a line reported again replaces the earlier one."""
    with state.writing() as db:
        db.executemany(
            """
            INSERT OR REPLACE INTO usage_line
                (day, number, surgeon, procedures, kind, thing, person, set_id,
                 open, hold, added, used, unopened, unopened_told, told_at, told_by)
            VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
            """,
            [
                (
                    line.day.isoformat(),
                    line.case,
                    line.surgeon,
                    WORD_GAP.join(line.procedures),
                    line.kind.value,
                    line.thing,
                    line.person,
                    line.set_id,
                    line.open,
                    line.hold,
                    line.added,
                    line.used,
                    line.unopened,
                    int(line.unopened_told),
                    told_at.isoformat(),
                    told_by,
                )
                for line in lines
            ],
        )
        db.executemany(f"DELETE FROM usage_piece WHERE {_OF_LINE}", [_key(line) for line in lines])
        db.executemany(
            "INSERT INTO usage_piece VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            [
                (*_key(line), one.lot, one.expiry.isoformat() if one.expiry else None, one.serial, one.used)
                for line in lines
                for one in line.packages
            ],
        )


def _key(line: UsageLine) -> tuple[str, ...]:
    return (line.day.isoformat(), line.case, line.kind.value, line.thing, line.person, line.set_id)


def usage_history(state: StateFile, since: date | None = None) -> tuple[UsageLine, ...]:
    """All usage reported, from a day on if one is given, in the order of day, case and thing."""
    with state.reading() as db:
        rows = db.execute(
            "SELECT * FROM usage_line WHERE day >= ? ORDER BY day, number, kind, thing, person, set_id",
            (since.isoformat() if since else "",),
        ).fetchall()
        packages: dict[tuple[str, ...], list[UsedPackage]] = defaultdict(list)
        for row in db.execute("SELECT * FROM usage_piece ORDER BY rowid").fetchall():
            packages[tuple(row)[:6]].append(_package(row))
    return tuple(
        UsageLine(
            day=date.fromisoformat(row["day"]),
            case=row["number"],
            surgeon=row["surgeon"],
            procedures=tuple(row["procedures"].split(WORD_GAP)),
            kind=ThingKind(row["kind"]),
            thing=row["thing"],
            person=row["person"],
            set_id=row["set_id"],
            open=row["open"],
            hold=row["hold"],
            added=row["added"],
            used=row["used"],
            unopened=row["unopened"],
            unopened_told=bool(row["unopened_told"]),
            packages=tuple(
                packages.get((row["day"], row["number"], row["kind"], row["thing"], row["person"], row["set_id"]), ())
            ),
        )
        for row in rows
    )


def _package(row: sqlite3.Row) -> UsedPackage:
    expiry = date.fromisoformat(row["expiry"]) if row["expiry"] else None
    return UsedPackage(lot=row["lot"], expiry=expiry, serial=row["serial"], used=row["used"])
