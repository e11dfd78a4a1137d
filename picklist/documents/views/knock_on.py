"""Who else is late when the case that waits for a set is: each with what it waits for."""

from __future__ import annotations

from picklist.documents.views import words
from picklist.documents.views.lookup import Lookup
from picklist.model.conflicts import Conflict, ConflictKind

STARTS_LATE = frozenset({ConflictKind.SHORT, ConflictKind.RUSH, ConflictKind.CONDITIONAL, ConflictKind.QUEUE})


def knock_on(found: Lookup, one: Conflict) -> tuple[str, ...]:
    """Who starts late with the case that waits, each with the set or the room that ties it; none if none does."""
    if not one.knock_on:
        return ()
    late = f" {words.span(one.minutes)}" if one.kind in STARTS_LATE and one.minutes else ""
    reached = [one.waiter]
    followers = []
    for case in one.knock_on:
        followers.append(_follower(found, case, reached))
        reached.append(case)
    does = "is" if len(followers) == 1 else "are"
    return (f"If {one.waiter} starts{late} late, {words.listed(followers)} {does} late too.",)


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
