"""The put-back list: cancelled carts, what goes to another cart, and what goes back to which place."""

from __future__ import annotations

from picklist import wording
from picklist.documents.views.change_lines import to_take_off
from picklist.documents.views.finished_words import View
from picklist.documents.views.lookup import Lookup
from picklist.evening.changes import CartChange, CartChangeKind, PlanChange
from picklist.model.schedule import Case

CAUTION = "Before you put an item back, check the package (whole and dry), the indicator, the lock and the expiry."


class PutBackCart(View):
    """One cancelled cart; rows that go to another cart first, then in walking order."""

    def __init__(self, found: Lookup, change: CartChange, case: Case | None) -> None:
        rows = to_take_off(found, change.take_off) if change.stands else ()
        self.case = change.case
        self.room = case.room if case else ""
        self.start = found.when(case.start) if case else ""
        self.surgeon = found.person(case.surgeon) if case else ""
        self.say = _say(found, change)
        self.built = change.built
        self.to_carts = tuple(row for row in rows if row.cart)
        self.to_places = tuple(row for row in rows if not row.cart)


def put_back(found: Lookup, change: PlanChange) -> tuple[PutBackCart, ...]:
    """The carts that are no longer wanted, in the comparison's order."""
    cancelled = (one for one in change.carts if one.kind is CartChangeKind.CANCELLED)
    return tuple(PutBackCart(found, one, change.old_case(one.case)) for one in cancelled)


def _say(found: Lookup, change: CartChange) -> str:
    why = f"moved to {found.clock.day_text(change.moved_to)}" if change.moved_to else "no longer on the schedule"
    if not change.take_off:
        return f"{wording.capital(why)}. Its list had nothing to put back."
    if change.built:
        return f"{wording.capital(why)}. This cart is built: take all of this off."
    if change.started:
        return f"{wording.capital(why)}. This cart is started: put back what is on it."
    return f"{wording.capital(why)}. Not reported as started: nothing to put back. If it was started, use its list."
