"""What is on the shelves of one item, and which lot is taken next."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date

from picklist.grouping import grouped
from picklist.letters import NaturalKey, natural_key
from picklist.model.catalogue import Lot
from picklist.model.expiry import Expiry, is_past, taking_order
from picklist.model.site import Site
from picklist.model.supply import Pick
from picklist.stock.walking import WalkingKey, walking_key


@dataclass(slots=True)
class LotLeft:
    """A lot and how much of it is not yet given to a case."""

    lot: Lot
    left: int


@dataclass(slots=True, kw_only=True)
class Shelf:
    """The lots of one item, earliest expiry first (not recorded last), then in walking order; some is kept back."""

    lots: list[LotLeft]
    keep_back: int
    expiry_day_counts: bool
    _in_date: dict[date, list[LotLeft]] = field(default_factory=dict)

    def in_date(self, day: date) -> list[LotLeft]:
        """Lots that may be used on a day, be something left or not."""
        if day not in self._in_date:
            self._in_date[day] = [one for one in self.lots if not is_expired(one.lot, day, self.expiry_day_counts)]
        return self._in_date[day]

    def usable(self, day: date) -> list[LotLeft]:
        """Lots with something left that may be used on a day."""
        return [one for one in self.in_date(day) if one.left]

    def left_on(self, day: date) -> int:
        """How much is left that may be used on a day, kept back or not."""
        return sum(one.left for one in self.usable(day))

    def first_usable(self, day: date) -> int:
        """How much lay there before anything was given that may be used on a day."""
        return sum(one.lot.quantity for one in self.in_date(day))

    def to_give(self, day: date) -> int:
        """How much of that may be promised to a case."""
        return max(0, self.left_on(day) - self.keep_back)

    def has_undated(self, day: date) -> bool:
        """Whether some of what is left on a day has no expiry recorded."""
        return any(one.lot.expiry is None for one in self.usable(day))

    def expired_by(self, day: date) -> int:
        """How much is there that may no longer be used on a day."""
        return sum(one.left for one in self.lots) - self.left_on(day)

    def remove(self, pick: Pick) -> None:
        """Take what is on a cart off its lot, in the place named first; a lot counted since may hold less.

        Without a lot, as what was added by hand has none, it is off those that are taken first. A lot that no row names
        any more may have another name now: it is off the rows of its place and expiry.
        """
        name, quantity = pick.lot.casefold(), pick.open + pick.hold
        alike = [one for one in self.lots if not name or one.lot.lot.casefold() == name]
        if not alike:
            alike = [one for one in self.lots if (one.lot.place, one.lot.expiry) == (pick.place, pick.expiry)]
        for one in sorted(alike, key=lambda one: bool(name) and one.lot.place != pick.place):
            part = min(quantity, one.left)
            one.left -= part
            quantity -= part

    def draw(self, quantity: int, day: date, known: set[int]) -> list[tuple[LotLeft, int]]:
        """Take a quantity, earliest expiry first, from as few lots as that allows.

        ``known`` holds the ids of the lots that the case has taken from already, and gains the new ones.
        Takes less only when less is usable.
        """
        taken = []
        while quantity and (usable := self.usable(day)):
            source = _next_lot(usable, quantity, known)
            part = min(quantity, source.left)
            source.left -= part
            quantity -= part
            known.add(id(source))
            taken.append((source, part))
        return taken


def _next_lot(usable: list[LotLeft], quantity: int, known: set[int]) -> LotLeft:
    """Of the lots that expire first: one in hand, the smallest that is enough, or the largest; then the nearest."""
    expiry = usable[0].lot.expiry
    if len(usable) == 1 or usable[1].lot.expiry != expiry:
        return usable[0]
    alike = [one for one in usable if one.lot.expiry == expiry]
    in_hand = [one for one in alike if id(one) in known]
    enough = [one for one in alike if one.left >= quantity]
    if in_hand:
        return in_hand[0]
    if enough:
        return min(enough, key=lambda one: one.left)
    return max(alike, key=lambda one: one.left)


def is_expired(lot: Lot, day: date, expiry_day_counts: bool) -> bool:
    """Whether a lot may not be used on a day; on its last day it may if the site counts that day."""
    return is_past(lot.expiry, day) or (lot.expiry == day and not expiry_day_counts)


def expiry_now(known: Expiry, lot: str, rows: Iterable[Lot]) -> Expiry:
    """The last day of a lot on a cart: the earliest that its rows state by now, else what was known of it."""
    stated = (row.expiry for row in rows if lot and row.lot.casefold() == lot.casefold())
    return min((day for day in stated if isinstance(day, date)), default=known)


class Shelves:
    """The shelves of a site, filled from its lots when they are first looked at."""

    def __init__(self, site: Site) -> None:
        self.site = site
        self._lots = grouped((lot.item, lot) for lot in site.lots)
        self._shelves: dict[str, Shelf] = {}

    def of(self, item: str) -> Shelf:
        """The shelf of an item or pack, empty when it has no lot."""
        if item not in self._shelves:
            self._shelves[item] = self._fill(item)
        return self._shelves[item]

    def _fill(self, item: str) -> Shelf:
        known = self.site.items.get(item)
        lots = sorted(self._lots.get(item, ()), key=self._taking_order)
        return Shelf(
            lots=[LotLeft(lot, lot.quantity) for lot in lots],
            keep_back=known.keep_back if known else 0,
            expiry_day_counts=self.site.settings.expiry_day_counts,
        )

    def _taking_order(self, lot: Lot) -> tuple[tuple[int, int], WalkingKey, NaturalKey]:
        return taking_order(lot.expiry), walking_key(self.site.places, lot.place), natural_key(lot.lot)
