"""From the cells of a row to the fields of the model: which column goes where is in its declaration."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from types import NoneType
from typing import get_args, get_type_hints

from picklist.tables.columns import Column
from picklist.tables.schema import BY_NAME


@dataclass(frozen=True, slots=True, kw_only=True)
class ModelFields:
    """The columns of a table whose values a model takes.

    ``plain`` are (field, column, whether the field may be None) of values that are taken as they are parsed;
    ``referring`` are columns of ids of another table, and whether their field may be None.
    """

    plain: tuple[tuple[str, str, bool], ...]
    referring: tuple[tuple[Column, bool], ...]
    vital: frozenset[str]


@cache
def fields_of(model: type, table: str) -> ModelFields:
    """How a row of a table becomes a model."""
    hints = get_type_hints(model)
    columns = (column for column in BY_NAME[table].columns if column.field in hints)
    taken = [(column, NoneType in get_args(hints[column.field])) for column in columns]
    return ModelFields(
        plain=tuple((column.field, column.name, none) for column, none in taken if not column.refers_to),
        referring=tuple((column, none) for column, none in taken if column.refers_to),
        vital=frozenset(column.name for column, _ in taken if column.vital),
    )
