"""What offices asked for and what they were told: requests with their answers, and proposals that were rejected."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from pathlib import Path

from picklist.model.site import Site
from picklist.store.typed_records import Records
from picklist.upkeep.change_log import describe_entry, known_cards, read_history, when_text
from picklist.upkeep.owners import Owner, owner_name
from picklist.upkeep.proposals import CardRequest, Proposal, card_name, change_text, request_text

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
    for asked in proposal.requests:
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
    answers: dict[int, list[OfficeAnswer]] = {}
    for _, said in ANSWERS.rows(db):
        answers.setdefault(said.request, []).append(said.answer)
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


@dataclass(frozen=True, slots=True, kw_only=True)
class HistoryEntry:
    """Something in the history of an owner's cards, in its lines: a change, a request, a rejected proposal."""

    at: datetime
    owner: Owner
    cards: frozenset[str | None]
    lines: tuple[str, ...]


def read_events(folder: Path, site: Site) -> tuple[HistoryEntry, ...]:
    """All that was changed, asked for and rejected, in the order in which it came."""
    events = [
        HistoryEntry(
            at=one.at, owner=one.owner, cards=frozenset({one.change.procedure}), lines=describe_entry(site, one)
        )
        for one in read_history(folder)
    ]
    events += [
        HistoryEntry(
            at=one.at, owner=one.owner, cards=frozenset({one.asked.procedure}), lines=describe_request(site, one)
        )
        for one in read_requests(folder)
    ]
    events += [
        HistoryEntry(
            at=one.at,
            owner=one.owner,
            cards=frozenset(card for card, _ in one.changes),
            lines=describe_rejection(site, one),
        )
        for one in read_rejections(folder)
    ]
    return tuple(sorted(events, key=lambda one: one.at))


def _find(known: tuple[Request, ...], proposal: Proposal, asked: CardRequest) -> Request | None:
    same = [one for one in known if one.owner == proposal.owner and one.asked == asked]
    return next((one for one in same if one.is_open or one.version == proposal.version), None)
