"""A conflict in single lines: how much is missing, what it means for the cart that waits, and who else is late."""

from __future__ import annotations

from picklist import wording
from picklist.documents.views.lookup import Lookup
from picklist.model.conflicts import Conflict, ConflictKind

MOST_FOLLOWERS = 8  # named in one sentence
SHEET = "See the conflict sheet."
STARTS_LATE = frozenset({ConflictKind.SHORT, ConflictKind.RUSH, ConflictKind.CONDITIONAL, ConflictKind.QUEUE})


def amount(one: Conflict) -> str:
    """How much a conflict lacks or has to spare; empty where a number says nothing."""
    return wording.amount_of(one.kind, one.minutes) if one.minutes else ""


def brief(found: Lookup, one: Conflict) -> str:
    """What a conflict means for the cart of the case that waits."""
    return f"{_waits(found, one)} {SHEET}"


def _waits(found: Lookup, one: Conflict) -> str:
    span = wording.span(one.minutes)
    match one.kind:
        case ConflictKind.SHORT:
            return f"{one.set_id or 'The soonest set'} is {span} late." if one.minutes else "No set is available."
        case ConflictKind.RUSH:
            return f"Save {span}{_from(found, one)}; confirm with sterile processing."
        case ConflictKind.TIGHT:
            return f"Only {span} to spare{_from(found, one)}."
        case ConflictKind.RESERVE:
            return f"Using it leaves {amount(one)}."
        case ConflictKind.CONDITIONAL:
            return f"{span} late if {_opened(one)}."
        case ConflictKind.QUEUE:
            return f"{span} late because of the department's queue{_from(found, one)}."


def _from(found: Lookup, one: Conflict) -> str:
    return f" on the way from {wording.listed(found.case_in_room(giver) for giver in one.givers)}" if one.givers else ""


def _opened(one: Conflict) -> str:
    return f"{wording.listed(one.givers)} opens it" if one.givers else "it is opened"


def knock_on(found: Lookup, one: Conflict) -> tuple[str, ...]:
    """Who starts late with the case that waits, each with the set or the room that ties it; none if none does."""
    if not one.knock_on:
        return ()
    late = f" {wording.span(one.minutes)}" if one.kind in STARTS_LATE and one.minutes else ""
    reached = [one.waiter]
    followers = []
    for case in one.knock_on:
        followers.append(_follower(found, case, reached))
        reached.append(case)
    does = "is" if len(followers) == 1 else "are"
    return (f"If {one.waiter} starts{late} late, {wording.listed(followers, MOST_FOLLOWERS)} {does} late too.",)


def _follower(found: Lookup, case: str, reached: list[str]) -> str:
    start = found.cases[case].start if case in found.cases else None
    when = f", {found.when(start)}" if start else ""
    why = _why(found, case, reached)
    return f"{found.case_in_room(case)}{when}" + (f" ({why})" if why else "")


def _why(found: Lookup, case: str, reached: list[str]) -> str:
    """The set that it waits for from a case that is late before it, else the room that it follows one in."""
    for reuse in found.plan.reuses:
        if reuse.waiter == case and reuse.giver in reached:
            return f"waits for {reuse.set_id} from {reuse.giver}"
    return "next in its room" if found.room(case) in map(found.room, reached) else ""
