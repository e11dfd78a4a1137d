"""The log of the offices' cards: changes, requests with their answers, rejected proposals. Entries are only added."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from pathlib import Path

from picklist.grouping import grouped
from picklist.model.site import Site
from picklist.store.lock import WAIT_SECONDS
from picklist.store.state import StateFile, open_state, state_path
from picklist.store.typed_records import Records
from picklist.tables.files import FileWrite
from picklist.upkeep.owners import Owner, owner_name
from picklist.upkeep.proposals import CardChange, CardRequest, Proposal, card_name, change_text, request_text

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

    ``number`` is 0 until it is in the log. ``until`` is the last day on which it can count, if any;
    ``stood`` what it found in its place, and ``stood_new``, for a swap, in the place of what comes instead.
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
    stood_new: Stood = Stood()


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

    def finish_write(self, write: int, *, whole: bool) -> tuple[LogEntry, ...]:
        """Note that a write came to its end; its changes are in the log from now on if the ``whole`` of it is done."""
        with self._state.writing() as db:
            found = WRITES.rows(db, "number = ? AND how IS NULL", write)
            db.execute("UPDATE card_write SET how = ? WHERE number = ?", (DONE if whole else GIVEN_UP, write))
            entries = [entry for _, noted in found for entry in noted.entries] if whole else []
            return tuple(_numbered(entry, CHANGES.keep(db, entry)) for entry in entries)

    def unfinished(self) -> tuple[tuple[int, tuple[FileWrite, ...]], ...]:
        """Writes that were started and never finished."""
        with self._state.reading() as db:
            return tuple((row["number"], noted.files) for row, noted in WRITES.rows(db, "how IS NULL"))

    def entries(self) -> tuple[LogEntry, ...]:
        """All changes, in the order of applying."""
        with self._state.reading() as db:
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


def read_history(folder: Path) -> tuple[LogEntry, ...]:
    """The changes of a site's cards; none, and nothing is made, when nothing was ever changed."""
    if not state_path(folder).exists():
        return ()
    with cards_state(folder) as state:
        return ChangeLog(state).entries()


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


REMEMBERED = timedelta(days=365)
OPEN = "not answered yet"


@dataclass(frozen=True, slots=True, kw_only=True)
class OfficeAnswer:
    """What an office is told about a request: when (UTC), by whom, and the answer."""

    at: datetime
    by: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """A request as it came in, with its number and its answers, oldest first; open while it has none."""

    number: int = 0
    at: datetime
    owner: Owner
    asked: CardRequest
    file: str
    version: str
    answers: tuple[OfficeAnswer, ...] = ()

    @property
    def is_open(self) -> bool:
        """Whether nobody has answered it yet."""
        return not self.answers


@dataclass(frozen=True, slots=True, kw_only=True)
class Rejection:
    """A proposal that was rejected: when (UTC), by whom, why, and its changes, (procedure, in words)."""

    at: datetime
    by: str
    reason: str
    proposal: str
    owner: Owner
    file: str
    changes: tuple[tuple[str | None, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RequestAnswer:
    """An answer, and the number of the request that it answers."""

    request: int
    answer: OfficeAnswer


REQUESTS = Records("card_request", Request, {"number": True, "answers": True, "asked": {"where": True}})
ANSWERS = Records("card_answer", RequestAnswer)
REJECTIONS = Records("card_rejection", Rejection)


@dataclass(frozen=True, slots=True, kw_only=True)
class AnsweredRequest:
    """What an office reads in its next workbook: on which day it asked, on which card, for what, and the answer."""

    on: date
    card: str
    text: str
    answer: str


def told_to(folder: Path, site: Site, owner: Owner, now: datetime) -> tuple[AnsweredRequest, ...]:
    """What an owner is told in the next workbook: open requests, and what was answered or rejected within a year."""
    clock = site.settings.site_clock
    since = now - REMEMBERED
    told = []
    for one in read_requests(folder):
        if one.owner == owner and (one.is_open or one.answers[-1].at >= since):
            last = one.answers[-1] if one.answers else None
            answer = f"{clock.day_text(clock.day(last.at))}, {last.by}: {last.text}" if last else OPEN
            card = card_name(site, one.asked.procedure)
            told.append(AnsweredRequest(on=clock.day(one.at), card=card, text=request_text(one.asked), answer=answer))
    for gone in read_rejections(folder):
        if gone.owner == owner and gone.at >= since:
            answer = f"not approved: {gone.reason} ({gone.by})"
            told += [
                AnsweredRequest(on=clock.day(gone.at), card=card_name(site, card), text=text, answer=answer)
                for card, text in gone.changes
            ]
    return tuple(sorted(told, key=lambda one: one.on, reverse=True))


def record_requests(db: sqlite3.Connection, proposal: Proposal, at: datetime) -> tuple[Request, ...]:
    """Record what a return asks for, and give it with its numbers; what was recorded before is not recorded again.

    The same words count as a new request only when the former one was answered and another workbook asks.
    """
    known = requests_in(db)
    numbers = set()
    for asked in dict.fromkeys(proposal.requests):  # the same words may stand in two rows of one card
        found = _find(known, proposal, asked)
        new = Request(at=at, owner=proposal.owner, asked=asked, file=proposal.file, version=proposal.version)
        numbers.add(found.number if found else REQUESTS.keep(db, new))
    return tuple(one for one in requests_in(db) if one.number in numbers)


def answer_request(db: sqlite3.Connection, number: int, answer: OfficeAnswer) -> None:
    """Record an answer to a request of that number, which there must be."""
    ANSWERS.keep(db, RequestAnswer(request=number, answer=answer))


def reject_proposal(db: sqlite3.Connection, site: Site, proposal: Proposal, answer: OfficeAnswer) -> None:
    """Record that a proposal was rejected, and why; the proposal itself is not touched."""
    rejection = Rejection(
        at=answer.at,
        by=answer.by,
        reason=answer.text,
        proposal=proposal.id,
        owner=proposal.owner,
        file=proposal.file,
        changes=tuple((one.procedure, change_text(site, one)) for one in proposal.changes),
    )
    REJECTIONS.keep(db, rejection)


def requests_in(db: sqlite3.Connection) -> tuple[Request, ...]:
    """All requests, in the order in which they came."""
    answers = grouped((said.request, said.answer) for _, said in ANSWERS.rows(db))
    return tuple(
        replace(one, number=row["number"], answers=tuple(answers.get(row["number"], ())))
        for row, one in REQUESTS.rows(db)
    )


def read_requests(folder: Path) -> tuple[Request, ...]:
    """All requests of a site, in the order in which they came."""
    with known_cards(folder) as db:
        return requests_in(db) if db else ()


def read_rejections(folder: Path) -> tuple[Rejection, ...]:
    """All rejected proposals, oldest first."""
    with known_cards(folder) as db:
        return tuple(one for _, one in REJECTIONS.rows(db)) if db else ()


def describe_request(site: Site, request: Request) -> tuple[str, ...]:
    """A request in words, with its answers or that it is open."""
    head = f"Request {request.number}. {when_text(site, request.at)}: {request_text(request.asked)}"
    whose = f"  {card_name(site, request.asked.procedure)}, {owner_name(site, request.owner)}"
    told = [f"  answered {when_text(site, one.at)}, {one.by}: {one.text}" for one in request.answers]
    return (head, whose, *(told or ["  open"]))


def describe_rejection(site: Site, one: Rejection) -> tuple[str, ...]:
    """A rejected proposal in words."""
    head = f"Rejected: proposal {one.proposal}. {when_text(site, one.at)}, {one.by}: {one.reason}"
    return (
        head,
        f"  {owner_name(site, one.owner)}, {one.file}",
        *(f"  {card_name(site, card)}: {text}" for card, text in one.changes),
    )


Event = LogEntry | Request | Rejection


def read_events(folder: Path) -> tuple[Event, ...]:
    """All that was changed, asked for and rejected, in the order in which it came."""
    events: list[Event] = [*read_history(folder), *read_requests(folder), *read_rejections(folder)]
    return tuple(sorted(events, key=lambda one: one.at))


def describe_event(site: Site, one: Event) -> tuple[str, ...]:
    """Something in the history of the cards, in its lines."""
    if isinstance(one, LogEntry):
        return describe_entry(site, one)
    return describe_request(site, one) if isinstance(one, Request) else describe_rejection(site, one)


def cards_of_event(one: Event) -> set[str | None]:
    """The cards that it is about, by procedure."""
    if isinstance(one, Rejection):
        return {card for card, _ in one.changes}
    return {one.change.procedure if isinstance(one, LogEntry) else one.asked.procedure}


def _find(known: tuple[Request, ...], proposal: Proposal, asked: CardRequest) -> Request | None:
    same = [one for one in known if one.owner == proposal.owner and one.asked == asked]
    return next((one for one in same if one.is_open or one.version == proposal.version), None)
