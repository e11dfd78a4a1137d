"""Draw lots for the demands of one day, open before hold."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from picklist.stock.demand import Demand, LotShare
from picklist.stock.shelf import LotLeft, Shelf


@dataclass(slots=True, kw_only=True)
class DrawnPicks:
    """What one demand draws from one lot."""

    demand: Demand
    source: LotLeft
    open: int = 0
    hold: int = 0

    @property
    def quantity(self) -> int:
        """Open and hold together."""
        return self.open + self.hold


def draw_all(shelf: Shelf, day: date, demands: Sequence[Demand]) -> list[DrawnPicks]:
    """Draw what is granted beyond what is on carts, in the order of the demands, all open before any hold."""
    drawn: dict[tuple[int, int], DrawnPicks] = {}
    known: dict[str, set[int]] = {}

    def draw(demand: Demand, quantity: int) -> list[tuple[DrawnPicks, int]]:
        if not quantity:
            return []
        parts = shelf.draw(quantity, day, known.setdefault(demand.case.number, set()))
        return [
            (drawn.setdefault((id(demand), id(source)), DrawnPicks(demand=demand, source=source)), part)
            for source, part in parts
        ]

    for demand in demands:
        for one, part in draw(demand, demand.to_draw[0]):
            one.open += part
    for demand in demands:
        for one, part in draw(demand, demand.to_draw[1]):
            one.hold += part
    return list(drawn.values())


def return_all(drawn: Iterable[DrawnPicks]) -> None:
    """Put what was drawn back on the shelf."""
    for one in drawn:
        one.source.left += one.quantity


def take(shelf: Shelf, drawn: Iterable[DrawnPicks]) -> None:
    """Record what each demand drew, in the order of the shelf."""
    order = {id(one): number for number, one in enumerate(shelf.lots)}
    for one in sorted(drawn, key=lambda one: order[id(one.source)]):
        one.demand.taken[id(one.source)] = LotShare(one.source.lot, one.open, one.hold)
