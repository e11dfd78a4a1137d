"""Preference cards: workbooks to offices and back, proposals approved, changes undone, cards cleaned up."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path

from picklist.documents.page_cache import free_name
from picklist.model.site import Site
from picklist.problems import Problem
from picklist.tasks.beside_site import what_stands
from picklist.tasks.errors import WrongUse, opened_state, refuse_private, refuse_private_name
from picklist.tasks.read_folder import Loaded, load_site
from picklist.tasks.targets import check_target, keep_what_is_there
from picklist.upkeep import approval, proposals
from picklist.upkeep.approval import apply_approval, undo_change
from picklist.upkeep.card_faults import (
    describe_faults,
    describe_near_cards,
    describe_trays_together,
    find_card_faults,
    find_near_cards,
    find_trays_together,
)
from picklist.upkeep.change_log import Request, describe_entry, known_cards, read_history, record_requests, told_to
from picklist.upkeep.effect import describe_effect, find_effect, plan_conflicts
from picklist.upkeep.office_book import write_office_workbook
from picklist.upkeep.office_compare import compare_return
from picklist.upkeep.office_problems import find_strange, takes_place_of, waits_already
from picklist.upkeep.office_return import damaged_book, read_office_workbook
from picklist.upkeep.owners import Owner, find_owner, owner_name, procedures_of
from picklist.upkeep.proposals import (
    Proposal,
    approve_proposal,
    describe_proposal,
    drop_proposal,
    keep_proposal,
    waiting_proposals,
)
from picklist.upkeep.stamps import DamagedBookError, WorkbookStamp, find_stamp, keep_stamp
from picklist.upkeep.write_back import write_back
from picklist.wording import counted

BACK = (".xlsx", ".xlsm")  # what a marked copy may be

# What a caller gives and gets.
ApprovedBy = proposals.ApprovedBy
ApprovalResult = approval.ApprovalResult


@dataclass(frozen=True, slots=True, kw_only=True)
class SentCards:
    """Whose workbook was written, and where the file is kept that was there before, if any."""

    name: str
    former: Path | None


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenBack:
    """What came of an office's workbook: its proposal if any change waits, and the copy to send back if it must be.

    ``compared``: it was read, and is the ``owner``'s; ``lines`` describe what waits, ``requests`` are what it asks for.
    ``unknown``: the file, when it was not read because no record says that it was sent from here; somebody
    must say that it was. ``former`` is where the file is kept that was at ``back`` before, if any.
    """

    proposal: Proposal | None = None
    back: Path | None = None
    former: Path | None = None
    lines: tuple[str, ...] = ()
    requests: tuple[Request, ...] = ()
    problems: tuple[Problem, ...] = ()
    compared: bool = False
    owner: str = ""
    unknown: Path | None = None


def send_cards(folder: Path, who: str, out: Path, now: datetime) -> SentCards:
    """Write the workbook of a surgeon or a service. Raises WrongUse."""
    loaded, site = load_site(folder, now)
    return _send(folder, (loaded, site), meant_owner(site, who), out)


def send_all_cards(folder: Path, out: Path, now: datetime) -> tuple[SentCards, ...]:
    """Write the workbook of every surgeon and service that keeps cards into the folder ``out``. Raises WrongUse."""
    loaded, site = load_site(folder, now)
    taken: set[str] = set()
    files = {free_name(owner_name(site, owner), taken): owner for owner in card_owners(site)}
    return tuple(_send(folder, (loaded, site), owner, out / f"{file}.xlsx") for file, owner in files.items())


def card_owners(site: Site) -> tuple[Owner, ...]:
    """Surgeons who have a card, then services."""
    services = dict.fromkeys(p.service for p in site.procedures.values() if p.service)
    owners = [*(Owner(surgeon=one) for one in site.staff), *(Owner(service=one) for one in services)]
    return tuple(owner for owner in owners if procedures_of(site, owner))


def _send(folder: Path, read: tuple[Loaded, Site], owner: Owner, out: Path) -> SentCards:
    loaded, site = read
    check_target(folder, out, (".xlsx",))
    former = keep_what_is_there(folder, out, site.settings.site_clock.wall(loaded.now))
    told = told_to(folder, site, owner, loaded.now)
    stamp = write_office_workbook(site, owner, out, day=site.settings.site_clock.day(loaded.now), told=told)
    with opened_state(folder) as state, state.writing() as db:
        keep_stamp(db, stamp)
    return SentCards(name=owner_name(site, owner), former=former)


def take_cards(folder: Path, file: Path, now: datetime, back: Path | None = None, *, ours: bool = False) -> TakenBack:
    """Compare an office's workbook with its stamp and the cards now.

    Clean changes become a proposal beside the site's tables, and requests are recorded. Clashes and
    mistakes are marked in a copy at ``back`` (by default beside the file). A workbook that no record
    says was sent from here is taken only when somebody says that it is ``ours``; one that names
    another site never is. Raises WrongUse for what cannot be read at all.
    """
    if not file.is_file():
        raise WrongUse(f"there is no file {file}")
    refuse_private_name(file)
    answer = back or file.with_name(f"{file.stem} - to fix.xlsx")
    if back is not None:
        check_target(folder, back, BACK, never=file)
    loaded, site = load_site(folder, now)
    returned, problems = read_office_workbook(file, known=lambda version: _stamp_sent(folder, version))
    if returned is None:
        return TakenBack(problems=problems)
    strange = find_strange(site, returned, sent=_stamp_sent(folder, returned.stamp.version), ours=ours)
    if strange:
        return TakenBack(problems=(*problems, strange), unknown=file if strange.kind == "not-recorded" else None)
    try:
        comparison = compare_return(site, returned, site.settings.site_clock.day(loaded.now))
    except DamagedBookError:
        return TakenBack(problems=(*problems, damaged_book(file.name)))
    former = None
    if comparison.goes_back:
        check_target(folder, answer, BACK, never=file)
        former = keep_what_is_there(folder, answer, site.settings.site_clock.wall(loaded.now))
        write_back(site, returned, comparison, answer)
    proposal = replace(comparison.proposal, requests=())
    with opened_state(folder) as state, state.writing() as db:
        requests = record_requests(db, comparison.proposal, loaded.now)
        waits = waiting_proposals(db).values()
        same = (one for one in waits if (one.owner, one.wishes) == (proposal.owner, proposal.wishes))
        proposal = next(same, proposal)  # the rest of one of which a part was approved, its workbook taken again
        covered = [one for one in waits if one.owner == proposal.owner and one.wishes < proposal.wishes]
        for one in covered:
            drop_proposal(db, one.id)
        beside = (
            *(takes_place_of(file.name, one) for one in covered),
            *waits_already(site, proposal, (one for one in waits if one not in covered)),
        )
        if proposal.changes:
            keep_proposal(db, proposal)
    return TakenBack(
        proposal=proposal if proposal.changes else None,
        back=answer if comparison.goes_back else None,
        former=former,
        lines=describe_proposal(site, proposal) if proposal.changes else (),
        requests=requests,
        problems=(*problems, *comparison.problems, *beside),
        compared=True,
        owner=owner_name(site, returned.stamp.owner),
    )


def _stamp_sent(folder: Path, version: str) -> WorkbookStamp | None:
    """The stamp of a version that was sent from here."""
    with known_cards(folder) as db:
        return find_stamp(db, version)


def waiting(folder: Path) -> dict[str, Proposal]:
    """The proposals that wait, by id. Raises WrongUse."""
    with known_cards(folder) as db:
        return waiting_proposals(db) if db else {}


def show_proposal(folder: Path, proposal_id: str, effective: date | None, now: datetime) -> tuple[str, ...]:
    """A proposal and what it would do to the carts, trays and conflicts of the coming days. Raises WrongUse."""
    loaded, site = load_site(folder, now)
    proposal = read_proposal(folder, proposal_id)
    begins = effective or site.settings.site_clock.day(loaded.now)
    stands = what_stands(folder, site, loaded.now)
    conflicts_of = plan_conflicts(loaded.problems, loaded.now, stands)
    log = read_history(folder)
    effect = find_effect(site, proposal.owner, proposal.changes, begins, log=log, conflicts_of=conflicts_of)
    day = site.settings.site_clock.day_text(begins)
    return (*describe_proposal(site, proposal), "", f"Effect from {day} on:", *describe_effect(site, effect))


def approve_cards(folder: Path, proposal_id: str, approved: ApprovedBy, now: datetime) -> tuple[ApprovalResult, Loaded]:
    """Write the approved changes of a proposal into the master; what is left of it waits on. Raises WrongUse."""
    refuse_private({"the reason": approved.reason, "who approves": approved.name}, now)
    loaded, _ = load_site(folder, now)
    proposal = read_proposal(folder, proposal_id)
    try:
        wanted = approve_proposal(proposal, approved)
    except ValueError as wrong:
        raise WrongUse(str(wrong)) from None
    applied = apply_approval(folder, wanted, now=loaded.now)
    _keep_the_rest(folder, proposal_id, {c.number for c in wanted.changes} - {c.number for c in applied.refused})
    return applied, loaded


def _keep_the_rest(folder: Path, proposal_id: str, done: set[int]) -> None:
    """A proposal waits on with what was not written of it, by what others approved or rejected meanwhile too."""
    with opened_state(folder) as state, state.writing() as db:
        waits = waiting_proposals(db).get(proposal_id)
        left = tuple(change.number for change in waits.changes if change.number not in done) if waits else ()
        if waits and left:
            keep_proposal(db, waits.lines(left))
        elif done:
            drop_proposal(db, proposal_id)


def undo_cards(
    folder: Path, number: int, approved: ApprovedBy, now: datetime, *, whole: bool = False
) -> tuple[ApprovalResult, Loaded]:
    """Undo one change of the log from a day on, or the whole approval that it came with. Raises WrongUse."""
    refuse_private({"the reason": approved.reason, "who approves": approved.name}, now)
    loaded, _ = load_site(folder, now)
    try:
        undo = approved.signed()
    except ValueError as wrong:
        raise WrongUse(str(wrong)) from None
    return undo_change(folder, number, undo, now=loaded.now, whole=whole), loaded


def describe_applied(applied: ApprovalResult, loaded: Loaded) -> tuple[str, ...]:
    """What was written into the cards, change by change, and how many were not."""
    site = loaded.site
    lines = [line for entry in applied.done for line in describe_entry(site, entry)] if site else []
    already = f", {len(applied.already)} already on the card" if applied.already else ""
    return (*lines, f"{counted(len(applied.done), 'change')} written, {len(applied.refused)} refused{already}.")


def tidy_cards(folder: Path, now: datetime) -> tuple[str, ...]:
    """What the coordinator may clean up: faulty and idle cards, near cards, trays always asked for together."""
    loaded, site = load_site(folder, now)
    day = site.settings.site_clock.day(loaded.now)
    return (
        *describe_faults(site, find_card_faults(site, day)),
        *describe_near_cards(site, find_near_cards(site, day)),
        *describe_trays_together(site, find_trays_together(site, day)),
    )


def meant_owner(site: Site, who: str) -> Owner:
    """The surgeon or service that is meant. Raises WrongUse with the choices, when that is not certain."""
    found = find_owner(site, who)
    if isinstance(found, tuple):
        hint = f"; did you mean {' or '.join(found)}? Use the id" if found else ""
        raise WrongUse(f"no single surgeon or service is called {who}{hint}")
    return found


def read_proposal(folder: Path, proposal_id: str) -> Proposal:
    """A waiting proposal. Raises WrongUse when there is none of that id."""
    there = waiting(folder)
    if proposal_id not in there:
        hint = f"waiting: {', '.join(there)}" if there else "none is waiting"
        raise WrongUse(f"no proposal {proposal_id} is waiting; {hint}")
    return there[proposal_id]
