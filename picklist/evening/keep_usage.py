"""Usage of past cases in the state file."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from picklist.evening.keep_plans import WORD_GAP
from picklist.evening.usage import UsageLine
from picklist.model.cards import ThingKind
from picklist.store.state import State


def record_usage(state: State, lines: Sequence[UsageLine], told_at: datetime, told_by: str = "") -> None:
    """Keep what was used, all or nothing; a line told again takes the place of the earlier one."""
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


def usage_history(state: State, since: date | None = None) -> tuple[UsageLine, ...]:
    """All usage told, from a day on if one is given, in the order of day, case and thing."""
    with state.reading() as db:
        rows = db.execute(
            "SELECT * FROM usage_line WHERE day >= ? ORDER BY day, number, kind, thing, person, set_id",
            (since.isoformat() if since else "",),
        ).fetchall()
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
        )
        for row in rows
    )
