"""Dataclasses in tables: as typed JSON beside a number or a key of its own, or with a column for each field."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping
from dataclasses import fields
from datetime import date
from enum import Enum
from functools import cache, cached_property
from typing import Any, Generic, TypeVar, get_origin, get_type_hints

from pydantic import TypeAdapter

RECORD = "record"  # the column that holds the JSON
BETWEEN = "; "  # between the texts of one column
R = TypeVar("R")
Cell = str | int | float | None


@cache
def form_of(kind: Any) -> TypeAdapter[Any]:
    """How records of a kind, a dataclass or a union, are made of plain data and become such."""
    return TypeAdapter(kind)


def record_of(kind: type[R], data: Any) -> R:
    """The record that plain data say. Raises ValueError."""
    own: Any = kind
    record: R = form_of(own).validate_python(data)
    return record


class Records(Generic[R]):
    """The records of one kind, a frozen dataclass; fields ``without`` are not kept and get their defaults."""

    def __init__(self, table: str, kind: type[R], without: dict[str, Any] | None = None) -> None:
        """Keep records of a kind in a table; ``without`` is written as for pydantic's ``exclude``."""
        self._table, self._without = table, without
        self._kind: Any = kind

    def keep(self, db: sqlite3.Connection, record: R, **columns: str | int) -> int:
        """Add a record with its other columns, in place of one with the same key; its row number."""
        names = ", ".join((*columns, RECORD))
        places = ", ".join("?" * (len(columns) + 1))
        text = form_of(self._kind).dump_json(record, exclude=self._without).decode()
        command = f"INSERT OR REPLACE INTO {self._table} ({names}) VALUES ({places})"
        return int(db.execute(command, (*columns.values(), text)).lastrowid or 0)

    def rows(self, db: sqlite3.Connection, where: str = "TRUE", *values: str | int) -> list[tuple[sqlite3.Row, R]]:
        """The rows for which ``where`` holds, in the order in which they came, each with its record."""
        found = db.execute(f"SELECT * FROM {self._table} WHERE {where} ORDER BY rowid", values).fetchall()
        return [(row, form_of(self._kind).validate_json(row[RECORD])) for row in found]


class Rows(Generic[R]):
    """The rows of a table, each a frozen dataclass: days and instants as ISO texts, several texts in one column."""

    def __init__(self, table: str, kind: type[R], **columns: str) -> None:
        """``columns`` names the columns that are not called like their fields; a field without a column is not kept."""
        self.table, self._kind = table, kind
        own: Any = kind
        named = {one.name: columns.get(one.name, one.name) for one in fields(own)}
        self._columns = {name: column for name, column in named.items() if column}

    @cached_property
    def _several(self) -> frozenset[str]:
        """The fields that are several texts."""
        hints = get_type_hints(self._kind)
        return frozenset(name for name in self._columns if get_origin(hints[name]) is tuple)

    def cells(self, record: R) -> dict[str, Cell]:
        """What is in the columns of a record."""
        return {column: _cell(getattr(record, name)) for name, column in self._columns.items()}

    def keep(self, db: sqlite3.Connection, records: Iterable[R], **more: Cell) -> int:
        """Add records, in place of those with the same key; ``more`` are other columns. The last one's row number."""
        last = 0
        for record in records:
            cells = self.cells(record) | more
            marks = ", ".join("?" * len(cells))
            command = f"INSERT OR REPLACE INTO {self.table} ({', '.join(cells)}) VALUES ({marks})"
            last = db.execute(command, tuple(cells.values())).lastrowid or 0
        return last

    def read(self, rows: Iterable[sqlite3.Row | Mapping[str, Any]]) -> tuple[R, ...]:
        """The records that stand in rows."""
        own: Any = self._kind
        found: list[R] = form_of(list[own]).validate_python([self._fields(row) for row in rows])
        return tuple(found)

    def _fields(self, row: sqlite3.Row | Mapping[str, Any]) -> dict[str, Any]:
        found = {name: row[column] for name, column in self._columns.items()}
        for name in self._several:
            found[name] = tuple(found[name].split(BETWEEN)) if found[name] else ()
        return found


def _cell(value: Any) -> Cell:
    if isinstance(value, tuple):
        return BETWEEN.join(value)
    if isinstance(value, date):  # or an instant
        return value.isoformat()
    if isinstance(value, bool):
        return int(value)
    found: Cell = value.value if isinstance(value, Enum) else value
    return found
