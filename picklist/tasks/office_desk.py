"""What the coordinator sees of the offices: who keeps cards, which proposals wait, and what was changed last."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from picklist.model.site import Site
from picklist.problems import did_you_mean
from picklist.tables.folder import WORKBOOKS
from picklist.tables.nearest import plain
from picklist.tables.workbooks import sheet_names
from picklist.tasks.errors import WrongUse, opened_state, refuse_private
from picklist.tasks.offices import card_owners, meant_owner, read_proposal, waiting
from picklist.tasks.read_folder import load_site
from picklist.upkeep.change_log import (
    OfficeAnswer,
    Request,
    answer_request,
    cards_mark,
    cards_of_event,
    describe_event,
    describe_request,
    known_cards,
    read_events,
    read_requests,
    reject_proposal,
)
from picklist.upkeep.office_return import carries_stamp
from picklist.upkeep.owners import find_procedure, owner_name, procedures_of
from picklist.upkeep.proposals import Proposal, card_name, change_text, describe_proposal, drop_proposal, request_text
from picklist.upkeep.stamps import STAMP_SHEET

NEWEST = 30  # events of the history that are shown


@dataclass(frozen=True, slots=True, kw_only=True)
class OfficeName:
    """Who keeps cards: as it is asked for (a surgeon's id or a service), as it reads, and how many cards."""

    asked: str
    name: str
    cards: int


@dataclass(frozen=True, slots=True, kw_only=True)
class WaitingProposal:
    """A proposal that nobody has approved yet: its changes by number, card and words."""

    proposal: Proposal
    owner: str
    changes: tuple[tuple[int, str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenRequest:
    """A request that nobody has answered yet: its number, whose it is, on which card, and what is asked for."""

    number: int
    owner: str
    card: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OfficeDesk:
    """All that concerns offices; ``history`` has the newest first, each in its lines.

    ``today`` is the site's day.
    """

    today: date
    offices: tuple[OfficeName, ...]
    waiting: tuple[WaitingProposal, ...]
    requests: tuple[OpenRequest, ...]
    history: tuple[tuple[str, ...], ...]


def look_at_offices(folder: Path, now: datetime) -> OfficeDesk:
    """Surgeons who have a card, then services; what waits; the newest of the history. Raises WrongUse."""
    loaded, site = load_site(folder, now)
    return OfficeDesk(
        today=site.settings.site_clock.day(loaded.now),
        offices=_offices(site),
        waiting=tuple(_waiting(site, one) for one in waiting(folder).values()),
        requests=tuple(_open(site, one) for one in read_requests(folder) if one.is_open),
        history=tuple(describe_event(site, one) for one in reversed(read_events(folder)[-NEWEST:])),
    )


def mark_of_offices(folder: Path) -> tuple[int, ...]:
    """Numbers that change with all that concerns offices and is not in the tables. Raises WrongUse."""
    with known_cards(folder) as db:
        return cards_mark(db) if db else ()


def reject_waiting(folder: Path, proposal_id: str, by: str, reason: str, now: datetime) -> None:
    """Reject a waiting proposal; the reason is kept and told to its office. Raises WrongUse."""
    loaded, site = load_site(folder, now)
    proposal = read_proposal(folder, proposal_id)
    refuse_private({"the reason": reason, "who rejects": by}, loaded.now)
    answer = _answer(by, reason, loaded.now, "enter who rejects the proposal, and the reason")
    with opened_state(folder) as state, state.writing() as db:
        reject_proposal(db, site, proposal, answer)
        drop_proposal(db, proposal.id)


def answer_office(folder: Path, number: int, by: str, text: str, now: datetime) -> tuple[str, ...]:
    """Answer an office's request, and give it in words. Raises WrongUse when there is none of that number."""
    loaded, site = load_site(folder, now)
    if number not in {one.number for one in read_requests(folder)}:
        waiting = ", ".join(str(one.number) for one in read_requests(folder) if one.is_open) or "none"
        raise WrongUse(f"there is no request {number}; open requests: {waiting}")
    refuse_private({"the answer": text, "who answers": by}, loaded.now)
    answer = _answer(by, text, loaded.now, "enter your name and an answer")
    with opened_state(folder) as state, state.writing() as db:
        answer_request(db, number, answer)
    return next(describe_request(site, one) for one in read_requests(folder) if one.number == number)


def list_waiting(folder: Path, now: datetime) -> tuple[str, ...]:
    """What waits for somebody's word: proposals with their changes, then open requests. Raises WrongUse."""
    _, site = load_site(folder, now)
    lines: list[str] = []
    for proposal in waiting(folder).values():
        lines += [*describe_proposal(site, proposal), ""]
    for request in read_requests(folder):
        if request.is_open:
            lines += describe_request(site, request)
    return tuple(lines)


def card_history(folder: Path, procedure: str | None, owner: str | None, now: datetime) -> tuple[str, ...]:
    """All that was changed, asked for, answered and rejected, oldest first. Raises WrongUse.

    ``procedure`` and ``owner`` (a surgeon or service) ask for some of it, by id or name.
    """
    _, site = load_site(folder, now)
    events = read_events(folder)
    if procedure is not None:
        card = _meant_procedure(site, procedure, {one for event in events for one in cards_of_event(event)})
        events = tuple(one for one in events if card in cards_of_event(one))
    if owner is not None:
        known = {one.owner.surgeon or one.owner.service: one.owner for one in events}
        meant = known.get(owner.strip()) or meant_owner(site, owner)
        events = tuple(one for one in events if one.owner == meant)
    return tuple(line for event in events for line in describe_event(site, event))


def _answer(by: str, text: str, at: datetime, needed: str) -> OfficeAnswer:
    if not by.strip() or not text.strip():
        raise WrongUse(needed)
    return OfficeAnswer(at=at, by=by.strip(), text=text.strip())


def _meant_procedure(site: Site, written: str, known: set[str | None]) -> str | None:
    if plain(written) == "every":
        return None
    found = written.strip() if written.strip() in known else find_procedure(site, written)
    if isinstance(found, tuple):
        hint = did_you_mean(found)
        raise WrongUse(f"no single procedure is called {written}{hint}")
    return found


def is_office_workbook(path: Path) -> bool:
    """Whether a file is the workbook of an office, or a sheet of one saved as CSV, by the stamp that it carries."""
    if path.suffix.lower() in WORKBOOKS:
        names, fault = sheet_names(path)
        if fault is not None or STAMP_SHEET in names:
            return fault is None
    return carries_stamp(path)


def _offices(site: Site) -> tuple[OfficeName, ...]:
    return tuple(
        OfficeName(
            asked=owner.surgeon or owner.service,
            name=owner_name(site, owner),
            cards=len(procedures_of(site, owner)),
        )
        for owner in card_owners(site)
    )


def _waiting(site: Site, proposal: Proposal) -> WaitingProposal:
    return WaitingProposal(
        proposal=proposal,
        owner=owner_name(site, proposal.owner),
        changes=tuple((c.number, card_name(site, c.procedure), change_text(site, c)) for c in proposal.changes),
    )


def _open(site: Site, request: Request) -> OpenRequest:
    return OpenRequest(
        number=request.number,
        owner=owner_name(site, request.owner),
        card=card_name(site, request.asked.procedure),
        text=request_text(request.asked),
    )
