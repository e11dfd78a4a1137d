"""A tray that stands in for another: which it is, and why none of the sets of the one asked for comes."""

from __future__ import annotations

from picklist.documents.views.lookup import Lookup
from picklist.model.plan import Cart, TrayLine
from picklist.model.sets import InstrumentSet, SetState
from picklist.model.uses import Assignment

MOST_NAMED = 3


def own_tray(found: Lookup, line: TrayLine) -> str:
    """The tray that a line's set is a copy of; the one asked for where it has no set."""
    return next((one.tray for one in found.plan.sets if one.id == line.set_id), line.need.thing)


def why_stand_in(found: Lookup, cart: Cart, line: TrayLine) -> str:
    """What it stands in for, and where the sets of that tray are."""
    wanted = line.need.thing
    sets = [one for one in found.plan.sets if one.tray == wanted and one.serves_side(line.need.side)]
    named = [_where_it_is(found, cart, one) for one in sets[:MOST_NAMED]]
    if len(sets) > MOST_NAMED:
        named.append(f"{len(sets) - MOST_NAMED} more not in time")
    return f"Stands in for {line.stand_in_for} ({wanted}): {'; '.join(named) or 'it has no set'}"


def _where_it_is(found: Lookup, cart: Cart, one: InstrumentSet) -> str:
    """Why a set does not come to this cart: another case has it, or it is unavailable."""
    others = [
        given for given in found.plan.assignments if given.set_id == one.id and given.use.case != cart.case.number
    ]
    if others:
        return f"{one.id} goes to {found.case_in_room(_nearest(others, cart).use.case)}"
    if one.state is SetState.IN_USE and one.in_case:
        return f"{one.id} is in use in {found.case_in_room(one.in_case)}"
    if one.back_at:
        return f"{one.id} is {one.state} until {found.clock.stamp(one.back_at)}"
    if one.state is SetState.ON_SHELF:
        return f"{one.id} is kept ready or does not fit this case"
    return f"{one.id} is of unknown state" if one.state is SetState.UNKNOWN else f"{one.id} is {one.state}"


def _nearest(others: list[Assignment], cart: Cart) -> Assignment:
    """The use of a set that is nearest to the case in time."""
    return min(others, key=lambda given: (abs(given.use.starts - cart.case.start), given.use.key))
