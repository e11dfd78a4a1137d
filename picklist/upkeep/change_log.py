"""The log of card changes: who, when, why, from what to what. Entries are added, never changed."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path

from picklist.model.site import Site
from picklist.store.lock import WAIT_SECONDS
from picklist.store.state import StateFile, open_state, state_path
from picklist.store.typed_records import Records
from picklist.tables.files import FileWrite
from picklist.upkeep.owners import Owner, owner_name
from picklist.upkeep.proposals import CardChange, card_name, change_text

DONE, GIVEN_UP = "done", "given up"


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


@dataclass(frozen=True, slots=True, kw_only=True)
class CardWrite:
    """What is about to be written, so that a write cut short can be finished: files, and changes for the log."""

    files: tuple[FileWrite, ...]
    entries: tuple[LogEntry, ...]


CHANGES = Records("card_change", LogEntry, {"number": True, "change": {"where": True}})
WRITES = Records("card_write", CardWrite, {"entries": {"__all__": {"number": True, "change": {"where": True}}}})


class ChangeLog:
    """The log of one site, in its state file."""

    def __init__(self, state: StateFile) -> None:
        """Read and write the log in an open state file."""
        self._state = state

    def begin_write(self, files: Iterable[FileWrite], entries: Iterable[LogEntry]) -> int:
        """Note what is about to be written."""
        with self._state.writing() as db:
            return WRITES.keep(db, CardWrite(files=tuple(files), entries=tuple(entries)))

    def finish_write(self, write: int, how: str = DONE) -> tuple[LogEntry, ...]:
        """Note that a write came to its end; its changes stand in the log from now on if it is done."""
        with self._state.writing() as db:
            found = WRITES.rows(db, "number = ? AND how IS NULL", write)
            db.execute("UPDATE card_write SET how = ? WHERE number = ?", (how, write))
            entries = [entry for _, noted in found for entry in noted.entries] if how == DONE else []
            return tuple(_numbered(entry, CHANGES.keep(db, entry)) for entry in entries)

    def unfinished(self) -> tuple[tuple[int, tuple[FileWrite, ...]], ...]:
        """Writes that were started and never finished."""
        with self._state.reading() as db:
            return tuple((row["number"], noted.files) for row, noted in WRITES.rows(db, "how IS NULL"))

    def entries(self, *, procedure: str | None = None, surgeon: str | None = None) -> tuple[LogEntry, ...]:
        """All changes, or those of one procedure's cards, or of one surgeon's, in the order of applying."""
        with self._state.reading() as db:
            found = log_entries(db)
        return tuple(
            one for one in found if procedure in (None, one.change.procedure) and surgeon in (None, one.owner.surgeon)
        )


def log_entries(db: sqlite3.Connection) -> tuple[LogEntry, ...]:
    """All changes, inside a transaction."""
    return tuple(_numbered(entry, row["number"]) for row, entry in CHANGES.rows(db))


def _numbered(entry: LogEntry, number: int) -> LogEntry:
    return replace(entry, number=number, change=replace(entry.change, number=number))


@contextmanager
def cards_state(folder: Path) -> Iterator[StateFile]:
    """The state file of a site, made when there is none; a build may hold it for a while. Raises StateError."""
    with open_state(state_path(folder), patience=WAIT_SECONDS) as state:
        yield state


@contextmanager
def known_cards(folder: Path) -> Iterator[sqlite3.Connection | None]:
    """A view of what is remembered of a site; None, and nothing is made, when nothing is. Raises StateError."""
    if not state_path(folder).exists():
        yield None
        return
    with cards_state(folder) as state, state.reading() as db:
        yield db


def cards_mark(db: sqlite3.Connection) -> tuple[int, ...]:
    """Numbers that change with whatever is kept of the cards: SQLite counts and sizes of each table."""
    tables = ("card_change", "card_request", "card_answer", "card_rejection", "card_proposal", "card_sent")
    asked = ", ".join(f"(SELECT count(*) FROM {one}), (SELECT total(length(record)) FROM {one})" for one in tables)
    return tuple(int(one) for one in db.execute(f"SELECT {asked}").fetchone())


def read_history(folder: Path, *, procedure: str | None = None, surgeon: str | None = None) -> tuple[LogEntry, ...]:
    """The changes of a site's cards; none, and nothing is made, when nothing was ever changed."""
    if not state_path(folder).exists():
        return ()
    with cards_state(folder) as state:
        return ChangeLog(state).entries(procedure=procedure, surgeon=surgeon)


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
