"""Cells of the site's tables that change after a day, and what was counted into them before, each thing once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import TYPE_CHECKING

from picklist.evening.changes import ListInHand
from picklist.model.built import BuiltCart
from picklist.model.known import TableChange
from picklist.problems import Problem, Where

if TYPE_CHECKING:  # it knows the form as well, and so all that lays out workbooks
    from picklist.evening.usage import UsageLine

LotRow = tuple[str, str, str]  # item, lot, place: a row of the table Lots
Body = tuple[str, str, str]  # item, lot and place as the cart's list or the crew named them


@dataclass(frozen=True, slots=True, kw_only=True)
class CountedItem:
    """How many of a thing a cart took off a row of Lots, and how many it gave back.

    ``row`` stays the row that was found when this was first counted, whatever becomes of the others.
    ``built_at`` is when the cart took them, ``over_at`` when its case was to end (UTC instants).
    """

    cart: str
    item: str
    lot: str
    place: str
    row_lot: str
    row_place: str
    taken: int
    back: int
    built_at: datetime
    over_at: datetime

    @property
    def body(self) -> Body:
        """Item, lot and place as the list or the crew named them."""
        return self.item, self.lot, self.place

    @property
    def row(self) -> LotRow:
        """The row of Lots."""
        return self.item, self.row_lot, self.row_place

    def since(self, count: CountedShelf | None) -> int:
        """How many are gone from the shelf since it was counted, or in all when it never was.

        A cart's crew counts before it takes anything.
        """
        if count is None or self.cart == count.cart or self.built_at >= count.counted_at:
            return self.taken - self.back
        return -self.back if self.over_at >= count.counted_at else 0


@dataclass(frozen=True, slots=True, kw_only=True)
class CountedShelf:
    """A count that the crew of a cart made of a row of Lots."""

    cart: str
    item: str
    row_lot: str
    row_place: str
    counted_at: datetime
    quantity: int

    @property
    def row(self) -> LotRow:
        """The row of Lots."""
        return self.item, self.row_lot, self.row_place


@dataclass(frozen=True, slots=True, kw_only=True)
class CountedSet:
    """What a cart did to a set: opened or not, and since when (UTC) it has been back.

    ``written``: the set's row was changed by it; ``recorded_at`` and ``recorded_until`` are the wall
    time and the day that the row said then.
    """

    cart: str
    set_id: str
    opened: bool
    since: datetime
    written: bool
    recorded_at: datetime | None = None
    recorded_until: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RowCounts:
    """What stands counted once a row of a table says what it shall say."""

    items: tuple[CountedItem, ...] = ()
    shelf: tuple[CountedShelf, ...] = ()
    sets: tuple[CountedSet, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class CountedBefore:
    """All that was counted before and bears on a day. ``carts`` names each case's cart for good."""

    carts: Mapping[str, str] = field(default_factory=dict)
    items: tuple[CountedItem, ...] = ()
    shelf: tuple[CountedShelf, ...] = ()
    sets: tuple[CountedSet, ...] = ()

    def cart(self, case: str) -> str:
        """The name under which a case's cart is remembered, whatever number the case gets."""
        return self.carts.get(case, case)

    def of_cart(self, cart: str) -> dict[Body, CountedItem]:
        """What was counted of a cart."""
        return {one.body: one for one in self.items if one.cart == cart}

    def last_count(self, row: LotRow) -> CountedShelf | None:
        """The count of a row that holds."""
        return newest_count(one for one in self.shelf if one.row == row)


def newest_count(counts: Iterable[CountedShelf]) -> CountedShelf | None:
    """The last of some counts of one row."""
    return max(counts, key=lambda one: (one.counted_at, one.cart), default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class RowChange:
    """The cells of one row that change, none where it says so already, and what then stands counted.

    ``where`` is the row as it was read.
    """

    where: Where
    changes: tuple[TableChange, ...]
    counts: RowCounts


@dataclass(frozen=True, slots=True, kw_only=True)
class DayChanges:
    """What follows from a day beyond what was counted before: changed rows, and what does not add up.

    ``untold`` are cases of built carts without any usage, ``unbuilt`` cases with usage whose cart
    nobody reported as built, ``counted_before`` cases of which nothing is new.
    """

    rows: tuple[RowChange, ...] = ()
    untold: tuple[str, ...] = ()
    unbuilt: tuple[str, ...] = ()
    counted_before: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = ()

    @property
    def all(self) -> tuple[TableChange, ...]:
        """Lots, then sets."""
        return tuple(change for row in self.rows for change in row.changes)

    @property
    def lots(self) -> tuple[TableChange, ...]:
        """The cells of Lots."""
        return tuple(change for change in self.all if change.table == "Lots")

    @property
    def sets(self) -> tuple[TableChange, ...]:
        """The cells of Sets."""
        return tuple(change for change in self.all if change.table == "Sets")


@dataclass(frozen=True, slots=True, kw_only=True)
class DayFacts:
    """What is known of a day: facts and lists by case number, and what was used."""

    built: Mapping[str, BuiltCart]
    in_hand: Mapping[str, ListInHand]
    usage: Sequence[UsageLine]
