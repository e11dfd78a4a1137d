"""Draw lots for the demands of one day, open before hold."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date

from picklist.stock.demand import Demand, DrawnPicks
from picklist.stock.shelf import Shelf


def draw_all(shelf: Shelf, day: date, demands: Sequence[Demand]) -> list[DrawnPicks]:
    """Draw what is granted beyond what is on carts, in the order of the demands, all open before any hold."""
    drawn: dict[tuple[int, int], DrawnPicks] = {}
    known: dict[str, set[int]] = {}

    def draw(demand: Demand, quantity: int) -> Iterator[tuple[DrawnPicks, int]]:
        for source, part in shelf.draw(quantity, day, known.setdefault(demand.case.number, set())):
            key = (id(demand), id(source))
            if key not in drawn:
                drawn[key] = DrawnPicks(demand=demand, source=source)
            yield drawn[key], part

    to_draw = [(demand, *demand.to_draw) for demand in demands]
    for demand, opened, _ in to_draw:
        for one, part in draw(demand, opened) if opened else ():
            one.open += part
    for demand, _, held in to_draw:
        for one, part in draw(demand, held) if held else ():
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
        one.demand.taken.append(one)
