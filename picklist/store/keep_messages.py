"""Messages in the state file. A message is kept before it is acknowledged; a repeated one is kept once."""

from __future__ import annotations

import secrets
import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import Enum, auto

from picklist.messages.events import Answer, Event
from picklist.messages.history import Kept
from picklist.messages.take import Taken
from picklist.store.state import StateFile
from picklist.store.typed_records import Rows, form_of, record_of


class Keeping(Enum):
    """What became of a message."""

    NEW = auto()
    REPEATED = auto()
    OTHER_CONTENT = auto()  # new, and a message of the same control id and appointment was kept before


def door_key(state: StateFile) -> bytes:
    """The key of this state file's marks, made once."""
    with state.writing() as db:
        row = db.execute("SELECT key FROM message_key").fetchone()
        if row is None:
            row = (secrets.token_hex(32),)
            db.execute("INSERT INTO message_key VALUES (?)", row)
    return bytes.fromhex(row[0])


def keep_messages(state: StateFile, messages: Sequence[Taken], arrived: datetime) -> list[Keeping]:
    """Keep messages, all or none, safe on the disk when this returns. Raises StateError."""
    with state.writing() as db:
        return [_keep(db, one, arrived) for one in messages]


def _keep(db: sqlite3.Connection, one: Taken, arrived: datetime) -> Keeping:
    if _is_repeated(db, one):
        return Keeping.REPEATED
    same = db.execute(
        "SELECT 1 FROM message WHERE control = ? AND appointment = ? AND event IS NOT NULL LIMIT 1",
        (one.control, one.appointment),
    ).fetchone()
    event = form_of(Event).dump_json(one.event, exclude_defaults=True).decode() if one.event is not None else None
    row = (arrived.isoformat(), one.control, one.appointment, one.digest, one.answer.value, one.place, one.why, event)
    db.execute("INSERT INTO message VALUES (NULL, ?, ?, ?, ?, ?, ?, ?, ?)", row)
    own_control = one.header is not None and bool(one.control)
    return Keeping.OTHER_CONTENT if same is not None and event is not None and own_control else Keeping.NEW


def _is_repeated(db: sqlite3.Connection, one: Taken) -> bool:
    """Whether a message was kept before. One without a time of its own counts again after another of its case."""
    if one.event is not None and not one.event.at:
        newest = "SELECT digest FROM message WHERE appointment = ? ORDER BY serial DESC LIMIT 1"
        row = db.execute(newest, (one.appointment,)).fetchone()
        return row is not None and row["digest"] == one.digest
    same = "SELECT 1 FROM message WHERE digest = ? AND answer = ?"  # one that was refused may be accepted another time
    return db.execute(same, (one.digest, one.answer.value)).fetchone() is not None


def has_messages(state: StateFile) -> bool:
    """Whether any message about a case was ever kept."""
    with state.reading() as db:
        return db.execute("SELECT 1 FROM message WHERE event IS NOT NULL LIMIT 1").fetchone() is not None


def kept_messages(state: StateFile) -> list[Kept]:
    """All messages about cases, as they arrived."""
    with state.reading() as db:
        rows = db.execute(
            "SELECT serial, arrived, event FROM message WHERE event IS NOT NULL ORDER BY serial"
        ).fetchall()
        return [record_of(Kept, dict(row) | {"event": form_of(Event).validate_json(row["event"])}) for row in rows]


@dataclass(frozen=True, slots=True, kw_only=True)
class Refused:
    """A message that was not applied: its running number, when it arrived, its id, its answer, where and why."""

    serial: int
    arrived: datetime
    control: str
    answer: Answer
    place: str
    why: str


_REFUSED = Rows("message", Refused)


def refused_messages(state: StateFile, since: datetime) -> list[Refused]:
    """What arrived since then and was refused, as it arrived; not what was accepted when it was sent again."""
    with state.reading() as db:
        rows = db.execute(
            """
            SELECT * FROM message WHERE answer != ? AND NOT EXISTS (
                SELECT * FROM message AS later
                WHERE later.serial > message.serial AND later.answer = ?
                AND (later.digest = message.digest OR (later.control = message.control AND message.control != ''))
            ) ORDER BY serial
            """,
            (Answer.ACCEPT.value, Answer.ACCEPT.value),
        ).fetchall()
        return [one for one in _REFUSED.read(rows) if one.arrived >= since]


def forget_messages(state: StateFile, serials: Iterable[int], before: datetime) -> None:
    """Remove messages about cases by their running numbers, and all others that arrived before then."""
    with state.reading() as db:
        others = _REFUSED.read(db.execute("SELECT * FROM message WHERE event IS NULL").fetchall())
    old = [*serials, *(one.serial for one in others if one.arrived < before)]
    if old:
        with state.writing() as db:
            db.executemany("DELETE FROM message WHERE serial = ?", [(one,) for one in old])


def written_schedules(state: StateFile) -> frozenset[str]:
    """The mark of the schedule as it was last written, and of one that was about to be."""
    with state.reading() as db:
        return frozenset(row["digest"] for row in db.execute("SELECT digest FROM message_schedule").fetchall())


def mark_schedules(state: StateFile, digests: Iterable[str]) -> None:
    """Remember the schedules that may lie there: before one is written that one and the last, afterwards it alone."""
    with state.writing() as db:
        db.execute("DELETE FROM message_schedule")
        db.executemany("INSERT INTO message_schedule VALUES (?)", [(one,) for one in sorted({*digests})])
