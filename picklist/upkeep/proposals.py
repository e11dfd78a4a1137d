"""A proposal: the clean changes of an office's return, waiting for someone's approval."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass, field, replace
from datetime import date

from picklist.model.site import Site
from picklist.problems import NOWHERE, Where
from picklist.store.typed_records import Records
from picklist.upkeep.owners import Owner, owner_name
from picklist.upkeep.slots import RowKey, RowValue, from_text, want_text, when_text
from picklist.wording import listed

VERBS = ("added", "removed", "changed")


@dataclass(frozen=True, slots=True, kw_only=True)
class CardChange:
    """One change on one card: a slot, what is there now, and what is wanted (None: nothing).

    ``number`` names it within its proposal. ``beneath`` is what the base card has there. ``begins``:
    it changes what counts from that later day on, and not what counts before.
    """

    number: int
    procedure: str | None
    slot: RowKey
    before: RowValue | None
    after: RowValue | None
    beneath: RowValue | None = None
    begins: date | None = None
    where: Where = field(default=NOWHERE, compare=False, repr=False)

    def counts_from(self, day: date) -> date:
        """From which day it counts when it is approved from a day on."""
        return max(day, self.begins) if self.begins else day

    @property
    def verb(self) -> str:
        """Added, removed or changed, as seen on the card."""
        return "added" if self.before is None else "removed" if self.after is None else "changed"


@dataclass(frozen=True, slots=True, kw_only=True)
class CardRequest:
    """Something that an office asks for and that is not in the catalogue; a person answers it."""

    procedure: str | None
    text: str
    open: str = ""
    hold: str = ""
    why: str = ""
    where: Where = field(default=NOWHERE, compare=False, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """What one return would change. ``version`` is the version of the cards it was made from."""

    id: str
    owner: Owner
    file: str
    version: str
    day: date
    changes: tuple[CardChange, ...] = ()
    requests: tuple[CardRequest, ...] = ()

    @property
    def wishes(self) -> frozenset[CardChange]:
        """What it would change, whatever the numbers of the changes."""
        return frozenset(replace(one, number=0) for one in self.changes)

    def lines(self, numbers: tuple[int, ...]) -> Proposal:
        """The proposal with some of its changes only."""
        return replace(self, changes=tuple(one for one in self.changes if one.number in numbers))


_NO_PLACES = {"__all__": {"where"}}
PROPOSALS = Records("card_proposal", Proposal, {"changes": _NO_PLACES, "requests": _NO_PLACES})


@dataclass(frozen=True, slots=True, kw_only=True)
class ApprovedBy:
    """Who approves or undoes, why, and from which day of the case on; ``numbers`` None approves every change."""

    name: str
    reason: str
    effective: date
    numbers: tuple[int, ...] | None = None

    def signed(self) -> ApprovedBy:
        """The same without stray spaces. Raises ValueError for an empty name or reason."""
        if not self.name.strip() or not self.reason.strip():
            raise ValueError("enter who approves, and the reason")
        return replace(self, name=self.name.strip(), reason=self.reason.strip())


@dataclass(frozen=True, slots=True, kw_only=True)
class Approval:
    """Changes that someone approves."""

    owner: Owner
    changes: tuple[CardChange, ...]
    approved: ApprovedBy
    source: str = ""


def approve_proposal(proposal: Proposal, approved: ApprovedBy) -> Approval:
    """Approve a proposal, all of it or some of its changes by number.

    Raises ValueError for an empty name or reason, or a number that the proposal does not have.
    """
    approved = approved.signed()
    known = {change.number for change in proposal.changes}
    wanted = known if approved.numbers is None else set(approved.numbers)
    if wanted - known:
        raise ValueError(f"the proposal has no change {', '.join(map(str, sorted(wanted - known)))}")
    changes = tuple(change for change in proposal.changes if change.number in wanted)
    source = f"{proposal.file}, proposal {proposal.id}"
    return Approval(owner=proposal.owner, changes=changes, approved=approved, source=source)


def describe_proposal(site: Site, proposal: Proposal) -> tuple[str, ...]:
    """The proposal for whoever approves it: card by card, change by change, then what is asked for."""
    lines = [f"Proposal {proposal.id} from {owner_name(site, proposal.owner)} ({proposal.file})"]
    cards = dict.fromkeys(one.procedure for one in proposal.changes)
    cards |= dict.fromkeys(one.procedure for one in proposal.requests)
    for procedure in cards:
        lines += ["", card_name(site, procedure)]
        of_card = [change for change in proposal.changes if change.procedure == procedure]
        lines += [f"  {one.number}. {change_text(site, one)}" for one in of_card]
        asked = [request for request in proposal.requests if request.procedure == procedure]
        lines += [f"  asked for, not in the catalogue: {request_text(one)}" for one in asked]
    if not cards:
        lines.append("nothing is changed")
    return tuple(lines)


def card_name(site: Site, procedure: str | None) -> str:
    """The name of a card by its procedure."""
    if procedure is None:
        return "every procedure"
    known = site.procedures.get(procedure)
    return f"{known.name} ({procedure})" if known else procedure


def change_text(site: Site, change: CardChange) -> str:
    """A change in one line: ``changed: Suture 2-0 (100245), 1 open -> 2 open``."""
    when = f" [only when {when_text(change.slot)}]" if not change.slot.always else ""
    when += f" [{from_text(change.begins)} on]" if change.begins else ""
    if change.before is None:
        return f"added: {want_text(site, change.after)}{when}"
    if change.after is None:
        return f"removed: {want_text(site, change.before)}{when}"
    return f"changed: {want_text(site, change.before)} -> {want_text(site, change.after)}{when}"


def request_text(request: CardRequest) -> str:
    """A request in one line."""
    amounts = [f"{amount} {word}" for amount, word in ((request.open, "open"), (request.hold, "hold")) if amount]
    return "; ".join(part for part in (request.text, listed(amounts), request.why) if part)


def keep_proposal(db: sqlite3.Connection, proposal: Proposal) -> None:
    """Keep a proposal, to be approved later, in place of what waited of it."""
    PROPOSALS.keep(db, proposal, id=proposal.id)


def drop_proposal(db: sqlite3.Connection, proposal_id: str) -> None:
    """A proposal waits no longer."""
    db.execute("DELETE FROM card_proposal WHERE id = ?", (proposal_id,))


def waiting_proposals(db: sqlite3.Connection) -> dict[str, Proposal]:
    """The proposals that wait, by id."""
    return {row["id"]: proposal for row, proposal in sorted(PROPOSALS.rows(db), key=lambda one: str(one[0]["id"]))}
