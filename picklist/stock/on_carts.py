"""Lots that stand on built carts already: they are on no shelf any more, and count for their case first."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from picklist.model.catalogue import Lot
from picklist.model.supply import Pick
from picklist.stock.demand import Demand, Taken
from picklist.stock.shelf import Shelves


def lay_on_carts(
    shelves: Shelves, demands: Iterable[Demand], standing: Iterable[Pick], counted: Collection[str] = ()
) -> None:
    """Take the standing picks off the shelves and let each serve the need that it was picked for.

    What its case no longer wants stays on the cart until it is put back, so it is not given to others.
    Of ``counted`` cases the table of lots says already that it is gone.
    """
    wanting: dict[tuple[str, str, str], list[Demand]] = {}
    for demand in demands:
        key = (demand.case.number, demand.need.thing, demand.need.person)
        wanting.setdefault(key, []).append(demand)
    for number, pick in enumerate(standing, start=1):
        if pick.case not in counted:
            shelves.of(pick.item).remove(pick.lot, pick.place, pick.open + pick.hold)
        _serve(wanting.get((pick.case, pick.item, pick.person), []), pick, -number)


def _serve(demands: list[Demand], pick: Pick, key: int) -> None:
    lot = Lot(
        item=pick.item,
        lot=pick.lot,
        quantity=pick.open + pick.hold,
        expiry=pick.expiry,
        place=pick.place,
        where=pick.where,
    )
    left = pick.open + pick.hold
    for demand in demands:
        opened = min(left, demand.need.open - demand.standing_open)
        held = min(left - opened, demand.need.hold - demand.standing_hold)
        left -= opened + held
        if opened or held:
            demand.standing_open += opened
            demand.standing_hold += held
            demand.taken[key] = Taken(lot, opened, held)
