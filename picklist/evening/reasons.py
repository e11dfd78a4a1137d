"""Why a cart that is already built must change."""

from __future__ import annotations

from datetime import time

from picklist.evening.content import CartThing, ContentChange
from picklist.model.expiry import is_past
from picklist.model.plan import Cart, Plan
from picklist.model.sets import NEVER_AVAILABLE, InstrumentSet

_MIDNIGHT = time(0)
NAMED = 8  # things that a reason names before it counts the rest


def why_changed(plan: Plan, case: str, work: ContentChange) -> tuple[str, ...]:
    """Why each thing leaves a built cart or comes onto it; things with one reason share a sentence.

    The sentence that ends in "gives no reason" is a fault of the plan worth telling.
    """
    cart = next(c for c in plan.carts if c.case.number == case)
    wanted = {line.need.thing for line in cart.trays} | {line.need.thing for line in cart.goods}
    off = [line.piece for line in work.take_off]
    gone = [piece for piece in off if piece.wanted not in wanted]
    fresh = [line.piece for line in work.add if line.piece.wanted not in {piece.wanted for piece in off}]
    reasons = [f"the list no longer wants {_labels(gone)}"] if gone else []
    reasons += [_why_off(plan, cart, piece) for piece in off if piece.wanted in wanted]
    reasons += [f"the list now wants {_labels(fresh)}"] if fresh else []
    reasons += [f"{_label(mark.after)} is now to be {mark.after.part.value}" for mark in work.remark]
    return tuple(dict.fromkeys(reasons))


def _labels(pieces: list[CartThing]) -> str:
    """The names of some pieces; of many the first few and how many more."""
    names = list(dict.fromkeys(_label(piece) for piece in pieces))
    more = f" and {len(names) - NAMED} more" if len(names) > NAMED else ""
    return ", ".join(names[:NAMED]) + more


def _label(piece: CartThing) -> str:
    return piece.set_id or piece.name or piece.thing


def _why_off(plan: Plan, cart: Cart, piece: CartThing) -> str:
    return _why_set_off(plan, cart, piece) if piece.set_id else _why_item_off(cart, piece)


def _why_set_off(plan: Plan, cart: Cart, piece: CartThing) -> str:
    one = next((s for s in plan.sets if s.id == piece.set_id), None)
    if one is None:
        return f"{piece.set_id} is no longer among the sets"
    recorded = _why_unusable(plan, one)
    if recorded:
        return recorded
    for conflict in plan.conflicts:
        touches = cart.case.number in conflict.cases
        if touches and (conflict.set_id == piece.set_id or conflict.tray == piece.wanted):
            return f"{piece.set_id}: {conflict.statement}"
    for other in plan.carts:
        if other is not cart and any(line.set_id == piece.set_id for line in other.trays):
            return f"{piece.set_id} is given to {other.case.number}; the plan gives no reason"
    return f"{piece.set_id}: the plan gives no reason"


def _why_unusable(plan: Plan, one: InstrumentSet) -> str:
    if one.state in NEVER_AVAILABLE:
        return f"{one.id} is now recorded as {one.state.value}"
    if one.recorded_until and one.recorded_until < plan.settings.site_clock.at_or_after(plan.day, _MIDNIGHT):
        return f"{one.id}: its recorded sterility ends before the day of the case"
    return ""


def _why_item_off(cart: Cart, piece: CartThing) -> str:
    lines = [line for line in cart.goods if line.need.thing == piece.wanted]
    if is_past(piece.expiry, cart.case.day):
        return f"{_label(piece)} lot {piece.lot} passes its expiry before the case"
    if any(line.is_short for line in lines):
        return f"{_label(piece)} is short and is given to an earlier need"
    lots = sorted({pick.lot for line in lines for pick in line.picks} - {piece.lot})
    if lots:
        return f"{_label(piece)} is now planned from lot {', '.join(lots)} instead of {piece.lot}"
    return f"{_label(piece)}: the list wants fewer"
