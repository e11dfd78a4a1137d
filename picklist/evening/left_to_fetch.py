"""What is still to fetch onto a cart that is being built."""

from __future__ import annotations

from dataclasses import dataclass

from picklist.evening.content import beside_short, short_of
from picklist.model.built import BuiltCart
from picklist.model.plan import Cart


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftThing:
    """So many of a thing on the list are neither on the cart nor reported missing.

    ``thing`` is the set that the list names (else the tray), or the item; ``place`` is where it is to be taken
    from, empty where no table says so.
    """

    thing: str
    name: str
    place: str
    left: int
    listed: int
    is_set: bool = False


def left_to_fetch(cart: Cart, facts: BuiltCart | None) -> tuple[LeftThing, ...]:
    """Trays, then what is picked from stock, in the order of the list; nothing for a cart that is reported built.

    What is short in stock counts as far as the shelves give it.
    """
    if facts and facts.done:
        return ()
    return (*_trays(cart, facts), *_goods(cart, facts))


def _trays(cart: Cart, facts: BuiltCart | None) -> tuple[LeftThing, ...]:
    settled = {*facts.taken, *facts.missing_trays} if facts else set()
    return tuple(
        LeftThing(
            thing=line.set_id or line.need.thing,
            name=line.name_with_side,
            place=line.place_now,
            left=1,
            listed=1,
            is_set=True,
        )
        for line in cart.trays
        if line.key not in settled and not line.in_hand
    )


def _goods(cart: Cart, facts: BuiltCart | None) -> tuple[LeftThing, ...]:
    found = []
    for item, lines in cart.goods_by_thing.items():
        listed = cart.asked(item) - sum(line.short_open + line.short_hold for line in lines)
        left = listed - (_settled(item, beside_short(facts, short_of(cart))) if facts else 0)
        if left > 0:
            places = dict.fromkeys(pick.place for line in lines for pick in line.picks if pick.place)
            name = next((line.need.name for line in lines if line.need.name), "")
            found.append(LeftThing(thing=item, name=name, place=", ".join(places), left=left, listed=listed))
    return tuple(found)


def _settled(item: str, facts: BuiltCart) -> int:
    """How many of an item that the shelves gave are on the cart, stood in for or reported missing."""
    instead = sum(one.quantity for one in facts.stood_in if one.thing == item)
    return facts.scanned_of(item) + max(instead, facts.missing_of(item))
