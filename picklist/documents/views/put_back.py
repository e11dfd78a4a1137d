"""The put-back list: cancelled carts, what goes to another cart, and what goes back to which place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from picklist import wording
from picklist.documents.views.change_lines import MoveRow, to_take_off
from picklist.documents.views.lookup import Lookup
from picklist.evening.changes import CartChange, CartChangeKind, PlanChange
from picklist.model.schedule import Case

CAUTION = "Before you put an item back, check the package (whole and dry), the indicator, the lock and the expiry."


@dataclass(frozen=True, slots=True, kw_only=True)
class PutBackCart:
    """One cancelled cart; rows that go to another cart first, then in walking order."""

    case: str
    room: str
    start: str
    surgeon: str
    say: str
    built: bool
    to_carts: tuple[MoveRow, ...]
    to_places: tuple[MoveRow, ...]


def put_back(found: Lookup, change: PlanChange) -> tuple[PutBackCart, ...]:
    """The carts that are no longer wanted, in the comparison's order."""
    olds = {case.number: case for case in change.old_cases}
    return tuple(_cart(found, one, olds) for one in change.carts if one.kind is CartChangeKind.CANCELLED)


def _cart(found: Lookup, change: CartChange, olds: Mapping[str, Case]) -> PutBackCart:
    case = olds.get(change.case)
    rows = to_take_off(found, change.take_off) if change.stands else ()
    return PutBackCart(
        case=change.case,
        room=case.room if case else "",
        start=found.when(case.start) if case else "",
        surgeon=found.person(case.surgeon) if case else "",
        say=_say(found, change),
        built=change.built,
        to_carts=tuple(row for row in rows if row.cart),
        to_places=tuple(row for row in rows if not row.cart),
    )


def _say(found: Lookup, change: CartChange) -> str:
    why = f"moved to {found.clock.day_text(change.moved_to)}" if change.moved_to else "no longer on the schedule"
    if not change.take_off:
        return f"{wording.capital(why)}. Its list had nothing to put back."
    if change.built:
        return f"{wording.capital(why)}. This cart is built: take all of this off."
    if change.started:
        return f"{wording.capital(why)}. This cart is started: put back what is on it."
    return f"{wording.capital(why)}. Not reported as started: nothing to put back. If it was started, use its list."
