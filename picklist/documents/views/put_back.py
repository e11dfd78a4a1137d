"""The put-back list: cancelled carts, what goes to another cart, and what goes back to which place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from picklist.documents.views import words
from picklist.documents.views.change_lines import MoveRow, to_take_off
from picklist.documents.views.lookup import Lookup
from picklist.evening.changes import CartChange, CartChangeKind, PlanChange
from picklist.model.schedule import Case

CAUTION = "Before a thing goes back: package whole and dry, indicator and lock as they should be, expiry not passed."


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
        return f"{words.capital(why)}. Its list held nothing to put back."
    if change.built:
        return f"{words.capital(why)}. The cart was told built: take all of this off it."
    if change.begun:
        return f"{words.capital(why)}. The cart was told begun: put back what is on it, leave the rest where it is."
    return (
        f"{words.capital(why)}. Not told begun: nothing to put back. If it is begun all the same, its list says where."
    )
