"""What the coordinator sees of the offices: who keeps cards, which proposals wait, and what was changed last."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from picklist.model.site import Site
from picklist.tables.workbooks import sheet_names
from picklist.tasks.folder import load_site
from picklist.tasks.offices import list_proposals, proposal_path, read_proposal
from picklist.upkeep import Owner, Proposal, describe_entry, owner_name, procedures_of, read_history
from picklist.upkeep.office_book import STAMP_SHEET
from picklist.upkeep.proposals import card_name, change_text, request_text


@dataclass(frozen=True, slots=True, kw_only=True)
class OfficeName:
    """Who keeps cards: as it is asked for (a surgeon's id or a service), as it reads, and how many cards."""

    asked: str
    name: str
    cards: int


@dataclass(frozen=True, slots=True, kw_only=True)
class WaitingProposal:
    """A proposal that nobody has approved yet: its changes by number, card and words, and what is asked for."""

    proposal: Proposal
    owner: str
    changes: tuple[tuple[int, str, str], ...]
    requests: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OfficeDesk:
    """All that concerns offices; ``history`` has the newest change first, each in its lines.

    ``today`` is the site's day.
    """

    today: date
    offices: tuple[OfficeName, ...]
    waiting: tuple[WaitingProposal, ...]
    history: tuple[tuple[str, ...], ...]


def look_at_offices(folder: Path, now: datetime, most: int = 30) -> OfficeDesk:
    """Surgeons who have a card, then services; waiting proposals; the newest ``most`` changes. Raises WrongUse."""
    loaded, site = load_site(folder, now)
    entries = reversed(read_history(folder)[-most:])
    return OfficeDesk(
        today=site.settings.site_clock.day(loaded.now),
        offices=_offices(site),
        waiting=tuple(_waiting(site, read_proposal(folder, one)) for one in list_proposals(folder)),
        history=tuple(describe_entry(site, entry) for entry in entries),
    )


def let_go(folder: Path, proposal: str) -> None:
    """Let a waiting proposal go. Raises WrongUse when there is none of that id."""
    read_proposal(folder, proposal)
    proposal_path(folder, proposal).unlink(missing_ok=True)


def is_office_workbook(path: Path) -> bool:
    """Whether a file is the workbook of an office, by the sheet that carries its stamp."""
    names, fault = sheet_names(path)
    return fault is None and STAMP_SHEET in names


def _offices(site: Site) -> tuple[OfficeName, ...]:
    services = dict.fromkeys(p.service for p in site.procedures.values() if p.service)
    owners = [*(Owner(surgeon=one) for one in site.staff), *(Owner(service=one) for one in services)]
    counted = ((owner, len(procedures_of(site, owner))) for owner in owners)
    return tuple(
        OfficeName(asked=owner.surgeon or owner.service, name=owner_name(site, owner), cards=cards)
        for owner, cards in counted
        if cards
    )


def _waiting(site: Site, proposal: Proposal) -> WaitingProposal:
    return WaitingProposal(
        proposal=proposal,
        owner=owner_name(site, proposal.owner),
        changes=tuple((c.number, card_name(site, c.procedure), change_text(site, c)) for c in proposal.changes),
        requests=tuple((card_name(site, r.procedure), request_text(r)) for r in proposal.requests),
    )
