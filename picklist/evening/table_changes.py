"""Cells of the site's tables that change after a day."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from picklist.evening.changes import ListInHand
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
class DayChanges:
    """What follows from a day: changed cells, what nobody told, and what does not add up."""

    lots: tuple[TableChange, ...] = ()
    sets: tuple[TableChange, ...] = ()
    untold: tuple[str, ...] = ()  # case numbers of built carts without any usage
    problems: tuple[Problem, ...] = ()

    @property
    def all(self) -> tuple[TableChange, ...]:
        """Lots, then sets."""
        return (*self.lots, *self.sets)


@dataclass(frozen=True, slots=True, kw_only=True)
class DayFacts:
    """What is known of a day: facts and lists by case number, and what was used."""

    built: Mapping[str, BuiltCart]
    in_hand: Mapping[str, ListInHand]
    usage: Sequence[UsageLine]
