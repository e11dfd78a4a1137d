"""What on a printed list must be renewed when it changes, and what may stay. It is stated here and nowhere else.

A list is printed again when what goes on the cart changes (a set, a lot, a quantity, open or hold), and
when it says one of these things otherwise:

- case number, room, start, when the cart must be complete, surgeon, procedures, side, alerts, size, notes;
- that it is stopped; that a tray has no set or one that stands in; notes; what is short; what is checked
  in the room, brought as an implant or named for reference;
- from which case a set comes and for which one it must be given back;
- a time by which a set must leave, when it is earlier than printed, or later by ``LATER`` minutes or more;
- when a set is expected from another case, by ``MOVED`` minutes or more;
- a kind of conflict that touches a tray now and did not, or not with these cases; but not that a tray is
  under the number kept ready, which asks nothing of who builds or uses the cart.

It stays, because a sheet that every build renews says it, when only these change: minutes to spare or
short, a conflict that is gone, chances, proofs, remedies and their order (conflict sheet); where a set
is and its steps (department sheet, changes); what may stand in for a shortage (shortages); planned
minutes of the case (board).
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from picklist.clock import minutes_between
from picklist.evening.details import Detail, DetailValue
from picklist.model.conflicts import ConflictKind

LATER = 30  # minutes; until then the paper asks for nothing wrong, only for more haste than is needed
MOVED = 15  # minutes
GIVE_BACK_TIMES = frozenset({"must leave the room by", "must reach decontamination by"})
EXPECTED = "expected from there"


def must_renew(details: Iterable[Detail]) -> bool:
    """Whether a list that says these things otherwise must be printed again."""
    return any(_counts(detail) for detail in details)


def _counts(detail: Detail) -> bool:
    if detail.what == "conflict":
        return any(not text.startswith(ConflictKind.RESERVE) for text in _texts(detail.now) - _texts(detail.was))
    if not (isinstance(detail.was, datetime) and isinstance(detail.now, datetime)):
        return True
    later = minutes_between(detail.was, detail.now)
    if detail.what in GIVE_BACK_TIMES:
        return later < 0 or later >= LATER
    if detail.what == EXPECTED:
        return abs(later) >= MOVED
    return True


def _texts(value: DetailValue) -> set[str]:
    return set(value) if isinstance(value, tuple) else set()
