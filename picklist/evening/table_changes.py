"""Cells of the site's tables that change after a day."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from picklist.evening.changes import ListInHand
from picklist.evening.counted import RowCounts
from picklist.evening.usage import UsageLine
from picklist.model.built import BuiltCart
from picklist.problems import Problem

Value = str | int | date | None  # a date may have its time


@dataclass(frozen=True, slots=True, kw_only=True)
class TableChange:
    """A cell of a site's table that changes: ``key`` are the values of the table's key columns.

    Times are wall times, as the table holds them.
    """

    table: str
    key: tuple[str, ...]
    column: str
    was: Value
    becomes: Value
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RowChange:
    """The cells of one row that change, none where it says so already, and what then stands counted."""

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
