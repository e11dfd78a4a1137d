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
from picklist.evening.details import Detail, DetailValue, cart_whereabouts, compare_details
from picklist.model.conflicts import ConflictKind
from picklist.model.plan import Cart

LATER = 30  # minutes; until then the paper asks for nothing wrong, only for more haste than is needed
MOVED = 15  # minutes
GIVE_BACK_TIMES = frozenset({"must leave the room by", "must reach decontamination by"})
EXPECTED = "expected from there"
NEAR = 120  # minutes before the cart must be complete; a set still on its way then is worth a word


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


def news_of_sets(was: Cart, now: Cart) -> tuple[Detail, ...]:
    """Sets of a list that stays which are elsewhere now, or are expected later and near to when they are needed.

    That the expected time of a set moves on while nobody takes its next step down is no news for hours.
    """
    before, after = cart_whereabouts(was), cart_whereabouts(now)
    both = [key for key in after if key in before]
    news = compare_details({key: before[key] for key in both}, {key: after[key] for key in both})
    moved = {one.of for one in news if one.what == "is now"}
    needed = {line.set_id: line.needed for line in now.trays}
    return tuple(one for one in news if one.of in moved or _comes_late(one, needed[one.of]))


def _comes_late(one: Detail, needed: datetime) -> bool:
    return isinstance(one.now, datetime) and minutes_between(one.now, needed) < NEAR


def _texts(value: DetailValue) -> set[str]:
    return set(value) if isinstance(value, tuple) else set()
