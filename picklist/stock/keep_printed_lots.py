"""Keep the lots that a printed list names where the stock is no worse for it.

On each day the same amount is taken of each expiry date, each case is given the same amount, and no
line is split among more lots than it is on paper. So earliest expiry still goes first over the whole
day; the lists only decide which of the day's carts gets which lot, all of them in date. Where not
every list can keep its lots, lists that must change anyway change first, then the latest of the day,
whose carts are built last.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import date

from picklist.model.expiry import Expiry
from picklist.model.supply import Pick
from picklist.stock.demand import Demand, DrawnPicks
from picklist.stock.draw import draw_all, return_all
from picklist.stock.shelf import LotLeft, Shelf

Key = tuple[str, str, str]
Line = dict[tuple[str, str], tuple[int, int]]
ByExpiry = Counter[Expiry]


class PrintedLots:
    """What the printed lists name: by case, item and person, how much of which lot at which place."""

    def __init__(self, picks: Iterable[Pick], demands: Iterable[Demand]) -> None:
        self._lines: dict[Key, Line] = {}
        for pick in picks:
            line = self._lines.setdefault((pick.case, pick.item, pick.person), {})
            opened, held = line.get((pick.lot, pick.place), (0, 0))
            line[pick.lot, pick.place] = (opened + pick.open, held + pick.hold)
        self._changing = self._changed_cases(demands) if self._lines else set()

    def _changed_cases(self, demands: Iterable[Demand]) -> set[str]:
        """Cases whose list changes whatever the lots are; those that lose a lot join them later."""
        wanted = {_key(demand): (demand.need.open, demand.need.hold) for demand in demands}
        printed = {key: _total(line) for key, line in self._lines.items()}
        return {key[0] for key in wanted.keys() | printed.keys() if wanted.get(key) != printed.get(key)}

    def deal(self, shelf: Shelf, day: date, demands: Sequence[Demand]) -> list[DrawnPicks]:
        """Draw for a day's demands so that as many of them as can be keep the lots that are printed."""
        usual = draw_all(shelf, day, demands)
        if not self._lines or self._are_on_paper(demands, usual):
            return usual
        printed = [demand for demand in demands if self._line(demand)]
        printed.sort(key=lambda demand: (demand.case.number in self._changing, demand.in_day))
        unsplit = [demand for demand in printed if len(self._line(demand)) == 1]
        share = _by_expiry(usual)
        for keeping in (printed, unsplit) if printed else ():
            return_all(usual)
            kept = self._keep(shelf, day, keeping, share)
            staying = {id(one.demand) for one in kept}
            drawn = [*kept, *draw_all(shelf, day, [demand for demand in demands if id(demand) not in staying])]
            if len(drawn) <= len(usual) + _splits(kept):
                self._changing |= {demand.case.number for demand in printed if id(demand) not in staying}
                return drawn
            return_all(drawn)
            usual = draw_all(shelf, day, demands)
        return usual

    def _are_on_paper(self, demands: Iterable[Demand], drawn: Iterable[DrawnPicks]) -> bool:
        """Whether each demand draws just what is printed for it."""
        found: dict[Key, Line] = {_key(demand): {} for demand in demands}
        for one in drawn:
            found[_key(one.demand)][one.source.lot.lot, one.source.lot.place] = one.open, one.hold
        return all(line == self._lines.get(key, {}) for key, line in found.items())

    def _line(self, demand: Demand) -> Line:
        """The printed line of a demand, if it says just how much the demand is to draw now; else nothing."""
        line = self._lines.get(_key(demand), {})
        return line if _total(line) == demand.to_draw else {}

    def _keep(self, shelf: Shelf, day: date, demands: Sequence[Demand], share: ByExpiry) -> list[DrawnPicks]:
        """Draw the printed lots of each demand for which they and the share of each expiry date are enough."""
        usable = shelf.usable(day)
        left = share.copy()
        kept: list[DrawnPicks] = []
        for demand in demands:
            drawn = _as_printed(demand, self._line(demand), usable)
            if drawn and _by_expiry(drawn) <= left and all(one.quantity <= one.source.left for one in drawn):
                left -= _by_expiry(drawn)
                for one in drawn:
                    one.source.left -= one.quantity
                kept += drawn
        return kept


def _splits(kept: Sequence[DrawnPicks]) -> int:
    """How many picks the kept lines have beyond one each; they are on paper and are not to blame on the rest."""
    return len(kept) - len({id(one.demand) for one in kept})


def _as_printed(demand: Demand, line: Line, usable: Iterable[LotLeft]) -> list[DrawnPicks]:
    """What a printed line draws, in the order of the shelf; nothing when one of its lots may not be used."""
    sources = [(one, at) for one in usable if (at := (one.lot.lot, one.lot.place)) in line]
    drawn = [DrawnPicks(demand=demand, source=one, open=line[at][0], hold=line[at][1]) for one, at in sources]
    return drawn if len(drawn) == len(line) else []


def _key(demand: Demand) -> Key:
    return demand.case.number, demand.need.thing, demand.need.person


def _total(line: Line) -> tuple[int, int]:
    return sum(opened for opened, _ in line.values()), sum(held for _, held in line.values())


def _by_expiry(drawn: Iterable[DrawnPicks]) -> ByExpiry:
    count: ByExpiry = Counter()
    for one in drawn:
        count[one.source.lot.expiry] += one.quantity
    return count
