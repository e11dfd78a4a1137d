"""From the cells of a row to the fields of the model: which column goes where is in its declaration."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from types import NoneType
from typing import Any, get_args, get_type_hints

from picklist.tables.columns import Column
from picklist.tables.parse import SEVERAL
from picklist.tables.schema import BY_NAME


@dataclass(frozen=True, slots=True, kw_only=True)
class CellField:
    """A column and the field of a model that takes its values; ``kinds`` are the members of its enum, by word."""

    column: str
    field: str
    refers_to: str
    several: bool
    vital: bool
    may_be_none: bool
    every: bool
    kinds: Mapping[Any, StrEnum]

    def made(self, value: Any) -> Any:
        """The words of a cell as members of the enum."""
        return tuple(self.kinds[word] for word in value) if self.several else self.kinds.get(value, value)


@dataclass(frozen=True, slots=True, kw_only=True)
class ModelCells:
    """The columns of a table whose values a model takes, in their order, and what is done with each.

    ``plain`` and ``maybe`` give the field of each column whose values are taken as they are, in ``maybe`` None too.
    """

    every: tuple[CellField, ...]
    plain: Mapping[str, str]
    maybe: Mapping[str, str]
    others: tuple[CellField, ...]


@cache
def cells_of(model: type, table: str) -> ModelCells:
    """How the columns of a table become fields of a model."""
    every = fields_of(model, table)
    as_it_is = [one for one in every if not one.refers_to and not one.kinds]
    return ModelCells(
        every=every,
        plain={one.column: one.field for one in as_it_is if not one.may_be_none},
        maybe={one.column: one.field for one in as_it_is if one.may_be_none},
        others=tuple(one for one in every if one not in as_it_is),
    )


@cache
def fields_of(model: type, table: str) -> tuple[CellField, ...]:
    """The columns of a table whose values a model takes, in their order."""
    hints = get_type_hints(model)
    return tuple(_cell_field(column, hints[column.field]) for column in BY_NAME[table].columns if column.field in hints)


def _cell_field(column: Column, hint: Any) -> CellField:
    kinds = get_args(hint) or (hint,)
    words = {one.value: one for kind in kinds if isinstance(kind, type) and issubclass(kind, StrEnum) for one in kind}
    return CellField(
        column=column.name,
        field=column.field,
        refers_to=column.refers_to,
        several=column.type in SEVERAL,
        vital=column.vital,
        may_be_none=NoneType in kinds,
        every=column.every,
        kinds=words,
    )
