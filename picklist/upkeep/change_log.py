"""The log of card changes: who, when, why, from what to what. Entries are added, never changed."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable
from contextlib import closing
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path
from typing import Any

from picklist.model.site import Site
from picklist.tables.files import FileWrite
from picklist.upkeep.owners import Owner, owner_name
from picklist.upkeep.proposals import CardChange, card_name, change_text
from picklist.upkeep.safe_files import KEPT_FOLDER, kept_folder
from picklist.upkeep.slots import Want, same_want, slot_data, slot_from, want_data, want_from

SCHEMA = """
CREATE TABLE IF NOT EXISTS changes (
  number INTEGER PRIMARY KEY, at TEXT NOT NULL, by TEXT NOT NULL, reason TEXT NOT NULL,
  surgeon TEXT NOT NULL, service TEXT NOT NULL, procedure TEXT, slot TEXT NOT NULL,
  before TEXT, after TEXT, beneath TEXT, effective TEXT NOT NULL, source TEXT NOT NULL,
  undoes INTEGER REFERENCES changes (number), lines TEXT NOT NULL, until TEXT, stood TEXT);
CREATE TABLE IF NOT EXISTS writes (number INTEGER PRIMARY KEY, files TEXT NOT NULL, entries TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS finished (write INTEGER PRIMARY KEY REFERENCES writes (number), how TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS requests (
  number INTEGER PRIMARY KEY, at TEXT NOT NULL, surgeon TEXT NOT NULL, service TEXT NOT NULL, procedure TEXT,
  text TEXT NOT NULL, open TEXT NOT NULL, hold TEXT NOT NULL, why TEXT NOT NULL,
  file TEXT NOT NULL, version TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS answers (
  number INTEGER PRIMARY KEY, request INTEGER NOT NULL REFERENCES requests (number),
  at TEXT NOT NULL, by TEXT NOT NULL, answer TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS rejected (
  number INTEGER PRIMARY KEY, at TEXT NOT NULL, by TEXT NOT NULL, reason TEXT NOT NULL, proposal TEXT NOT NULL,
  surgeon TEXT NOT NULL, service TEXT NOT NULL, file TEXT NOT NULL, changes TEXT NOT NULL);
"""
TABLES = ("changes", "writes", "finished", "requests", "answers", "rejected")
COLUMNS = 16  # of a change, without its number
ADDED_COLUMNS = ("until", "stood")  # a log of before has none


@dataclass(frozen=True, slots=True, kw_only=True)
class Stood:
    """What a change found in its place: a line of the owner's ``own``, or nothing but the base card.

    ``begins`` and ``until`` are the days of a line written by hand; ``logged`` when another change
    of the log had put it there.
    """

    begins: date | None = None
    until: date | None = None
    own: bool = False
    logged: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class LogEntry:
    """One change as it was applied. ``at`` is the UTC instant; ``lines`` tell which card lines it touched.

    ``number`` is 0 until it stands in the log. ``until`` is the last day on which it can count, if any;
    ``stood`` what it found in its place.
    """

    number: int = 0
    at: datetime
    by: str
    reason: str
    owner: Owner
    change: CardChange
    effective: date
    source: str = ""
    undoes: int | None = None
    lines: tuple[str, ...] = ()
    until: date | None = None
    stood: Stood = Stood()


class ChangeLog:
    """The log of one site's folder."""

    def __init__(self, folder: Path) -> None:
        """Open the log of a folder, making it when there is none."""
        self._path = kept_folder(folder) / "changes.sqlite"
        with closing(self._connect()) as db:
            db.executescript(SCHEMA)
            known = {column[1] for column in db.execute("PRAGMA table_info(changes)")}
            for column in ADDED_COLUMNS:
                if column not in known:
                    db.execute(f"ALTER TABLE changes ADD COLUMN {column} TEXT")
            for table in TABLES:
                for verb in ("UPDATE", "DELETE"):
                    db.execute(
                        f"CREATE TRIGGER IF NOT EXISTS {table}_{verb.lower()} BEFORE {verb} ON {table} "
                        "BEGIN SELECT RAISE(ABORT, 'the log is only added to'); END"
                    )

    def begin_write(self, files: Iterable[FileWrite], entries: Iterable[LogEntry]) -> int:
        """Note what is about to be written, so that a write cut short can be finished."""
        told = json.dumps([[one.file, one.former, one.new, one.part] for one in files])
        with closing(self._connect()) as db, db:
            cursor = db.execute(
                "INSERT INTO writes (files, entries) VALUES (?, ?)", (told, json.dumps([_row(e) for e in entries]))
            )
            return int(cursor.lastrowid or 0)

    def finish_write(self, write: int, how: str = "done") -> tuple[LogEntry, ...]:
        """Note that a write came to its end; its changes stand in the log from now on if it is done."""
        with closing(self._connect()) as db, db:
            db.execute("INSERT INTO finished (write, how) VALUES (?, ?)", (write, how))
            if how != "done":
                return ()
            (told,) = db.execute("SELECT entries FROM writes WHERE number = ?", (write,)).fetchone()
            made = []
            for row in json.loads(told):
                row += [None] * (COLUMNS - len(row))
                places = ", ".join("?" * len(row))
                cursor = db.execute(f"INSERT INTO changes VALUES (NULL, {places})", row)
                made.append(replace(_entry((0, *row)), number=int(cursor.lastrowid or 0)))
            return tuple(made)

    def unfinished(self) -> tuple[tuple[int, tuple[FileWrite, ...]], ...]:
        """Writes that were begun and never finished."""
        with closing(self._connect()) as db:
            rows = db.execute(
                "SELECT number, files FROM writes WHERE number NOT IN (SELECT write FROM finished) ORDER BY number"
            ).fetchall()
        return tuple(
            (number, tuple(FileWrite(file=f, former=o, new=n, part=p) for f, o, n, p in json.loads(files)))
            for number, files in rows
        )

    def entries(self, *, procedure: str | None = None, surgeon: str | None = None) -> tuple[LogEntry, ...]:
        """All changes, or those of one procedure's cards, or of one surgeon's, in the order of applying."""
        with closing(self._connect()) as db:
            rows = db.execute("SELECT * FROM changes ORDER BY number").fetchall()
        found = tuple(_entry(row) for row in rows)
        return tuple(
            one for one in found if procedure in (None, one.change.procedure) and surgeon in (None, one.owner.surgeon)
        )

    def insert(self, table: str, values: tuple[Any, ...]) -> int:
        """Add a row to one of the log's tables, and give its number."""
        assert table in TABLES
        places = ", ".join("?" * len(values))
        with closing(self._connect()) as db, db:
            return int(db.execute(f"INSERT INTO {table} VALUES (NULL, {places})", values).lastrowid or 0)

    def rows(self, table: str) -> list[tuple[Any, ...]]:
        """All rows of one of the log's tables, by number."""
        assert table in TABLES
        with closing(self._connect()) as db:
            return db.execute(f"SELECT * FROM {table} ORDER BY number").fetchall()

    def _connect(self) -> sqlite3.Connection:
        return sqlite3.connect(self._path, timeout=60)


def has_log(folder: Path) -> bool:
    """Whether anything was ever recorded of a folder's cards."""
    return (folder / KEPT_FOLDER / "changes.sqlite").is_file()


def is_cut_short(folder: Path) -> bool:
    """Whether a write of the cards was started and never finished. Raises sqlite3.Error for a damaged log."""
    if not has_log(folder):
        return False
    path = folder / KEPT_FOLDER / "changes.sqlite"
    with closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=rw", uri=True, timeout=60)) as db:
        tables = {name for (name,) in db.execute("SELECT name FROM sqlite_master")}
        left = "SELECT 1 FROM writes WHERE number NOT IN (SELECT write FROM finished) LIMIT 1"
        return {"writes", "finished"} <= tables and db.execute(left).fetchone() is not None


def read_history(folder: Path, *, procedure: str | None = None, surgeon: str | None = None) -> tuple[LogEntry, ...]:
    """The changes of a folder's cards; none, and nothing is made, when nothing was ever changed."""
    if not has_log(folder):
        return ()
    return ChangeLog(folder).entries(procedure=procedure, surgeon=surgeon)


def when_text(site: Site, at: datetime) -> str:
    """An instant as the site's day and wall time."""
    clock = site.settings.site_clock
    wall = clock.wall(at)
    return f"{clock.day_text(wall.date())} {clock.wall_text(wall.time())}"


def describe_entry(site: Site, entry: LogEntry) -> tuple[str, ...]:
    """An entry of the log in words: number, when, who, why, from what to what, and the card lines."""
    clock = site.settings.site_clock
    when = when_text(site, entry.at)
    undoes = f", undoes {entry.undoes}" if entry.undoes else ""
    whose = owner_name(site, entry.owner)
    return (
        f"Change {entry.number}. {when}, {entry.by}: {entry.reason}{undoes}",
        f"  {card_name(site, entry.change.procedure)}, {whose}, from {clock.day_text(entry.effective)}",
        f"  {change_text(site, entry.change)}",
        *(f"  {line}" for line in entry.lines),
    )


def _row(entry: LogEntry) -> list[Any]:
    change = entry.change
    wants = [want_data(want) for want in (change.before, change.after, change.beneath)]
    return [
        entry.at.isoformat(),
        entry.by,
        entry.reason,
        entry.owner.surgeon,
        entry.owner.service,
        change.procedure,
        json.dumps(slot_data(change.slot), ensure_ascii=False),
        *(json.dumps(want, ensure_ascii=False) if want else None for want in wants),
        entry.effective.isoformat(),
        entry.source,
        entry.undoes,
        json.dumps(entry.lines, ensure_ascii=False),
        entry.until.isoformat() if entry.until else None,
        json.dumps(_stood_data(entry.stood)),
    ]


def _stood_data(stood: Stood) -> list[Any]:
    days = [day.isoformat() if day else None for day in (stood.begins, stood.until)]
    return [*days, stood.own, stood.logged]


def _stood_from(text: str | None, before: Want | None, beneath: Want | None) -> Stood:
    """What was noted; a log of before notes nothing, but what a line said and what lay beneath it is there."""
    if text is None:
        return Stood(own=not same_want(before, beneath))
    begins, until, own, logged = json.loads(text)
    return Stood(begins=_day(begins), until=_day(until), own=bool(own), logged=bool(logged))


def _day(text: str | None) -> date | None:
    return date.fromisoformat(text) if text else None


def _entry(row: tuple[Any, ...]) -> LogEntry:
    number, at, by, reason, surgeon, service, procedure, slot, *rest = row
    before, after, beneath, effective, source, undoes, lines, until, stood = rest
    wants = [want_from(json.loads(text)) if text else None for text in (before, after, beneath)]
    return LogEntry(
        number=number,
        at=datetime.fromisoformat(at),
        by=by,
        reason=reason,
        owner=Owner(surgeon=surgeon, service=service),
        change=CardChange(
            number=number,
            procedure=procedure,
            slot=slot_from(json.loads(slot)),
            before=wants[0],
            after=wants[1],
            beneath=wants[2],
        ),
        effective=date.fromisoformat(effective),
        source=source,
        undoes=undoes,
        lines=tuple(json.loads(lines)),
        until=_day(until),
        stood=_stood_from(stood, wants[0], wants[2]),
    )
