"""Things that leave one cart and are wanted on another go straight there."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from picklist.evening.changes import CartChange
from picklist.evening.content import PieceLine

Body = tuple[str, ...]


@dataclass(slots=True)
class _Offer:
    """So many pieces of one body that a cart gives or wants, not yet passed on."""

    case: str
    left: int


def pass_on(carts: Sequence[CartChange]) -> list[CartChange]:
    """The same changes, each line naming the cart that gives or gets the thing, where one does.

    Carts give and get in their stated order, so that the same plans give the same lines; but those
    that were reported built give first: what is there is surely on no other cart.
    """
    passed = _match_offers(carts)
    given = {(giver, body): [(getter, n) for g, getter, b, n in passed if (g, b) == (giver, body)]
             for giver, _, body, _ in passed}  # fmt: skip
    got = {(getter, body): [(giver, n) for giver, g, b, n in passed if (g, b) == (getter, body)]
           for _, getter, body, _ in passed}  # fmt: skip
    return [
        replace(
            cart,
            add=_named(cart.add, {b: n for (case, b), n in got.items() if case == _who(cart)}),
            take_off=_named(cart.take_off, {b: n for (case, b), n in given.items() if case == _who(cart)}),
        )
        for cart in carts
    ]


def _who(cart: CartChange) -> str:
    """A cart's name among the changes: a number may stand for a cancelled and a new case at once."""
    return f"{cart.kind.value}/{cart.case}"


def _match_offers(carts: Sequence[CartChange]) -> list[tuple[str, str, Body, int]]:
    """Who gives whom how many of what: (giver, getter, body, quantity)."""
    wanted: dict[Body, list[_Offer]] = {}
    for cart in carts:
        for line in cart.add:
            wanted.setdefault(line.piece.body, []).append(_Offer(_who(cart), line.quantity))
    passed: Counter[tuple[str, str, Body]] = Counter()
    for cart in sorted(carts, key=lambda cart: (not cart.built, not cart.begun)):
        for line in cart.take_off:
            left = line.quantity
            for offer in wanted.get(line.piece.body, ()):
                both = min(left, offer.left)
                passed[_who(cart), offer.case, line.piece.body] += both
                offer.left -= both
                left -= both
    return [(giver, getter, body, n) for (giver, getter, body), n in passed.items() if n]


def _named(lines: Iterable[PieceLine], others: dict[Body, list[tuple[str, int]]]) -> tuple[PieceLine, ...]:
    """Lines split by the cart at the other end; what no cart gives or gets comes last."""
    made: list[PieceLine] = []
    left = {body: list(shares) for body, shares in others.items()}
    for line in lines:
        rest = line.quantity
        shares = left.get(line.piece.body, [])
        while rest and shares:
            who, quantity = shares.pop(0)
            both = min(rest, quantity)
            made.append(replace(line, quantity=both, cart=who.partition("/")[2]))
            rest -= both
            if quantity > both:
                shares.insert(0, (who, quantity - both))
        if rest:
            made.append(replace(line, quantity=rest))
    return tuple(made)
