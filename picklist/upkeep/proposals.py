"""A proposal: the clean changes of an office's return, waiting for someone's approval."""

from __future__ import annotations

import json
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from typing import Any

from picklist.model.site import Site
from picklist.problems import NOWHERE, Where
from picklist.tables.files import write_file
from picklist.upkeep.owners import Owner, owner_name
from picklist.upkeep.slots import (
    Slot,
    Want,
    from_text,
    slot_data,
    slot_from,
    want_data,
    want_from,
    want_text,
    when_text,
)

VERBS = ("added", "removed", "changed")


@dataclass(frozen=True, slots=True, kw_only=True)
class CardChange:
    """One change on one card: a slot, what stands there now, and what is wanted (None: nothing).

    ``number`` names it within its proposal. ``beneath`` is what the base card has there. ``begins``:
    it changes what counts from that later day on, and not what counts before.
    """

    number: int
    procedure: str | None
    slot: Slot
    before: Want | None
    after: Want | None
    beneath: Want | None = None
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

    def lines(self, numbers: tuple[int, ...]) -> Proposal:
        """The proposal with some of its changes only."""
        return replace(self, changes=tuple(one for one in self.changes if one.number in numbers))


@dataclass(frozen=True, slots=True, kw_only=True)
class Approval:
    """Changes that someone approves by name, for a reason, from an effective day on."""

    owner: Owner
    changes: tuple[CardChange, ...]
    by: str
    reason: str
    effective: date
    source: str = ""


def approve_proposal(
    proposal: Proposal, *, by: str, reason: str, effective: date, numbers: tuple[int, ...] | None = None
) -> Approval:
    """Approve a proposal, all of it or some of its changes by number.

    Raises ValueError for an empty name or reason, or a number that the proposal does not have.
    """
    if not by.strip() or not reason.strip():
        raise ValueError("an approval needs the name of who approves, and a reason")
    known = {change.number for change in proposal.changes}
    unknown = sorted(set(numbers or ()) - known)
    if unknown:
        raise ValueError(f"the proposal has no change {', '.join(map(str, unknown))}")
    wanted = known if numbers is None else set(numbers)
    return Approval(
        owner=proposal.owner,
        changes=tuple(change for change in proposal.changes if change.number in wanted),
        by=by.strip(),
        reason=reason.strip(),
        effective=effective,
        source=f"{proposal.file}, proposal {proposal.id}",
    )


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
    return "; ".join(part for part in (request.text, " and ".join(amounts), request.why) if part)


def save_proposal(proposal: Proposal, path: Path) -> None:
    """Write a proposal as JSON, to be approved later."""
    write_file(path, f"{json.dumps(_proposal_data(proposal), ensure_ascii=False, indent=1)}\n".encode())


def load_proposal(path: Path) -> Proposal:
    """Read what ``save_proposal`` wrote. Raises ValueError for anything else."""
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
        return Proposal(
            id=data["id"],
            owner=Owner(**data["owner"]),
            file=data["file"],
            version=data["version"],
            day=date.fromisoformat(data["day"]),
            changes=tuple(_change_from(one) for one in data["changes"]),
            requests=tuple(CardRequest(**one) for one in data["requests"]),
        )
    except (KeyError, TypeError, AttributeError, OSError, UnicodeDecodeError) as error:
        raise ValueError(f"{path.name} is no proposal") from error


def _proposal_data(proposal: Proposal) -> dict[str, Any]:
    return {
        "id": proposal.id,
        "owner": {"surgeon": proposal.owner.surgeon, "service": proposal.owner.service},
        "file": proposal.file,
        "version": proposal.version,
        "day": proposal.day.isoformat(),
        "changes": [_change_data(one) for one in proposal.changes],
        "requests": [
            {"procedure": one.procedure, "text": one.text, "open": one.open, "hold": one.hold, "why": one.why}
            for one in proposal.requests
        ],
    }


def _change_data(change: CardChange) -> dict[str, Any]:
    return {
        "number": change.number,
        "procedure": change.procedure,
        "slot": slot_data(change.slot),
        "before": want_data(change.before),
        "after": want_data(change.after),
        "beneath": want_data(change.beneath),
        "from": change.begins.isoformat() if change.begins else None,
    }


def _change_from(data: dict[str, Any]) -> CardChange:
    return CardChange(
        number=int(data["number"]),
        procedure=data["procedure"],
        slot=slot_from(data["slot"]),
        before=want_from(data["before"]),
        after=want_from(data["after"]),
        beneath=want_from(data["beneath"]),
        begins=date.fromisoformat(data["from"]) if data.get("from") else None,
    )
