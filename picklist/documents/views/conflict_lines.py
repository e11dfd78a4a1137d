"""A conflict in one line, for the list of the cart that waits; proof and remedies stand on the conflict sheet."""

from __future__ import annotations

from picklist.documents.views import words
from picklist.documents.views.conflict_sheet import amount
from picklist.documents.views.lookup import Lookup
from picklist.model.conflicts import Conflict, ConflictKind

SHEET = "See the conflict sheet."


def brief(found: Lookup, one: Conflict) -> str:
    """What a conflict means for the cart of the case that waits."""
    return f"{_waits(found, one)} {SHEET}"


def _waits(found: Lookup, one: Conflict) -> str:
    span = words.span(one.minutes)
    match one.kind:
        case ConflictKind.SHORT:
            return f"{one.set_id or 'The soonest set'} is {span} late." if one.minutes else "No set is available."
        case ConflictKind.RUSH:
            return f"Save {span}{_from(found, one)}; confirm with sterile processing."
        case ConflictKind.TIGHT:
            return f"Only {span} to spare{_from(found, one)}."
        case ConflictKind.RESERVE:
            return f"Using it leaves the tray {amount(one)}."
        case ConflictKind.CONDITIONAL:
            return f"{span} late if {_opened(one)}."
        case ConflictKind.QUEUE:
            return f"{span} late because of the department's queue{_from(found, one)}."


def _from(found: Lookup, one: Conflict) -> str:
    return f" on the way from {words.listed(found.case_in_room(giver) for giver in one.givers)}" if one.givers else ""


def _opened(one: Conflict) -> str:
    return f"{words.listed(one.givers)} opens it" if one.givers else "it is opened"
