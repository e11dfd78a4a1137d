"""Find what the shelves cannot give, for which cases, and what could stand in. Nothing is replaced here."""

from __future__ import annotations

from datetime import date

from picklist.model.catalogue import Item
from picklist.model.supply import CaseShort, ItemShortage
from picklist.stock.demand import Demand
from picklist.stock.shelf import Shelves


def report_shortages(shelves: Shelves, by_item: dict[str, list[Demand]]) -> tuple[ItemShortage, ...]:
    """A shortage for each item that some case lacks, in the order in which the day first lacks them."""
    found = []
    for item, demands in by_item.items():
        lacking = [demand for demand in demands if _lacks(demand) != (0, 0)]
        if lacking:
            found.append((lacking[0].case.day, lacking[0].in_day, _shortage(shelves, item, demands, lacking)))
    return tuple(shortage for _, _, shortage in sorted(found, key=lambda one: one[:2]))


def _lacks(demand: Demand) -> tuple[int, int]:
    return demand.need.open - demand.open, demand.need.hold - demand.hold


def _shortage(shelves: Shelves, item: str, demands: list[Demand], lacking: list[Demand]) -> ItemShortage:
    shelf = shelves.of(item)
    last_wanted, last_lacking = demands[-1].case.day, lacking[-1].case.day
    stand_ins = _stand_ins(shelves, item, last_lacking, under_latex_alert=_any_latex_alert(lacking))
    return ItemShortage(
        item=item,
        name=demands[0].need.name,
        wanted=sum(demand.need.open + demand.need.hold for demand in demands),
        on_hand=shelf.first_usable(last_wanted),
        kept_back=min(shelf.keep_back, shelf.left_on(last_lacking)),
        expired=shelf.expired_by(last_lacking),
        lacking=_by_case(lacking),
        stand_ins=stand_ins,
        undated=tuple(one for one, _ in stand_ins if shelves.of(one).has_undated(last_lacking)),
    )


def _by_case(lacking: list[Demand]) -> tuple[CaseShort, ...]:
    by_case: dict[str, tuple[int, int]] = {}
    for demand in lacking:
        before, (opened, held) = by_case.get(demand.case.number, (0, 0)), _lacks(demand)
        by_case[demand.case.number] = (before[0] + opened, before[1] + held)
    return tuple(CaseShort(case=case, open=opened, hold=held) for case, (opened, held) in by_case.items())


def _any_latex_alert(lacking: list[Demand]) -> bool:
    return any(demand.case.latex_alert for demand in lacking)


def _stand_ins(shelves: Shelves, item: str, day: date, *, under_latex_alert: bool) -> tuple[tuple[str, int], ...]:
    """Listed stand-ins, best first, with some left on a day after every case is served."""
    known = shelves.site.items.get(item)
    if known is None:
        return ()
    fit = [one for one in known.substitutes if _may_stand_in(shelves.site.items.get(one), under_latex_alert)]
    left = [(one, shelves.of(one).to_give(day)) for one in fit]
    return tuple((one, quantity) for one, quantity in left if quantity)


def _may_stand_in(item: Item | None, under_latex_alert: bool) -> bool:
    return item is not None and not item.retired and not (under_latex_alert and item.may_hold_latex)
