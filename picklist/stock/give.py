"""Give stock to cases, day by day.

On each day of the horizon all open quantities are served before any hold. Where there is not
enough, the case with the greater priority is served first, then the one that starts earlier;
never by surgeon. Lots go earliest expiry first, and none past its expiry on the day of the case; a lot without a
recorded expiry goes last. What is usable only shrinks from day to day, so this serves as much as
possible: on the first day as many open as possible, then as many on hold, then the same on the next
day. A later day never takes from an earlier one, whose carts are built first.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from picklist.garbage import no_search_for_garbage
from picklist.grouping import grouped
from picklist.model.catalogue import Lot
from picklist.model.needs import CaseNeeds
from picklist.model.schedule import Case
from picklist.model.site import Site
from picklist.model.supply import ItemShortage, Pick
from picklist.stock.demand import Demand, DrawnPicks, find_demands
from picklist.stock.draw import take
from picklist.stock.find_shortages import report_shortages
from picklist.stock.keep_printed_lots import PrintedLots
from picklist.stock.shelf import LotLeft, Shelf, Shelves, expiry_now, is_expired


@dataclass(frozen=True, slots=True, kw_only=True)
class StockResult:
    """What each case gets from which lot, in day order, and what is short."""

    picks: tuple[Pick, ...]
    shortages: tuple[ItemShortage, ...]


@no_search_for_garbage()
def give_stock(
    site: Site,
    case_needs: Iterable[CaseNeeds],
    cases: Iterable[Case],
    standing: Iterable[Pick] = (),
    printed: Iterable[Pick] = (),
    counted: Collection[str] = (),
) -> StockResult:
    """Give the site's lots to all that the planned cases want picked, and report what is short.

    ``standing`` are the lots on carts that are built already, ``printed`` those that the lists in
    hand name, which stay where the stock is no worse for it (see ``keep_printed_lots``). ``counted`` are cases
    whose carts were taken off the table of lots by settling their day.
    """
    demands = find_demands(case_needs, cases)
    shelves = Shelves(site)
    lay_on_carts(shelves, demands, standing, counted)
    lists = PrintedLots(printed, demands)
    by_item = grouped((demand.need.thing, demand) for demand in demands)
    for item, wanted in by_item.items():
        for day, of_day in groupby(wanted, key=lambda demand: demand.case.day):
            _serve_day(shelves.of(item), day, list(of_day), lists)
    picks = tuple(pick for demand in demands for pick in demand.picks())
    return StockResult(picks=picks, shortages=report_shortages(shelves, by_item))


def _serve_day(shelf: Shelf, day: date, demands: list[Demand], printed: PrintedLots) -> None:
    """Grant what may be given on one day, open before hold, then draw the lots for it."""
    left = shelf.to_give(day)
    wanted = sum(demand.need.open + demand.need.hold for demand in demands)
    scarce = demands if wanted <= left else sorted(demands, key=lambda demand: demand.when_scarce)
    for demand in scarce:
        drawn = min(demand.need.open - demand.standing_open, left)
        demand.open = demand.standing_open + drawn
        left -= drawn
    for demand in scarce:
        drawn = min(demand.need.hold - demand.standing_hold, left)
        demand.hold = demand.standing_hold + drawn
        left -= drawn
    take(shelf, printed.deal(shelf, day, demands))


def lay_on_carts(
    shelves: Shelves, demands: Iterable[Demand], standing: Iterable[Pick], counted: Collection[str] = ()
) -> None:
    """Take the standing picks off the shelves and let each serve the need that it was picked for.

    What its case no longer wants, or what expires before it by the table as it is now, stays on the cart until it is
    put back, so it is not given to others.
    For ``counted`` cases the table of lots has it taken off already.
    """
    picks = tuple(standing)
    if not picks:
        return
    wanting = grouped(((demand.case.number, demand.need.thing, demand.need.person), demand) for demand in demands)
    laid = []
    for pick in picks:
        shelf = shelves.of(pick.item)
        if pick.case not in counted:
            shelf.remove(pick)
        laid.append(_Laid.of(pick, shelf, wanting.get((pick.case, pick.item, pick.person), ())))
    for one in laid:
        one.serve()
    for one in laid:  # what is left of the open ones serves as on hold, and the other way round
        one.open, one.hold = one.hold, one.open
        one.serve()


@dataclass(slots=True, kw_only=True)
class _Laid:
    """A lot on a cart, its share in each need of its case, and how many serve none yet, open and on hold."""

    shares: Sequence[DrawnPicks]
    open: int
    hold: int

    @classmethod
    def of(cls, pick: Pick, shelf: Shelf, demands: Iterable[Demand]) -> _Laid:
        """A pick of a cart; what expires before its case by the shelf's rows serves nobody."""
        day = expiry_now(pick.expiry, pick.lot, (one.lot for one in shelf.lots))
        many = pick.open + pick.hold
        lot = Lot(item=pick.item, lot=pick.lot, quantity=many, expiry=day, place=pick.place, where=pick.where)
        fit = [one for one in demands if not is_expired(lot, one.case.day, shelf.expiry_day_counts)]
        source = LotLeft(lot, 0)
        return cls(shares=[DrawnPicks(demand=one, source=source) for one in fit], open=pick.open, hold=pick.hold)

    def serve(self) -> None:
        """Serve what the case wants open with the open ones, and on hold with those on hold."""
        for share in self.shares:
            demand = share.demand
            opened = min(self.open, demand.need.open - demand.standing_open)
            held = min(self.hold, demand.need.hold - demand.standing_hold)
            if (opened or held) and not share.quantity:
                demand.taken.append(share)
            self.open -= opened
            self.hold -= held
            demand.standing_open += opened
            demand.standing_hold += held
            share.open += opened
            share.hold += held
