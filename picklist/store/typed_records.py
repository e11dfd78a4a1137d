"""Records kept as typed JSON: a table for each kind, with a number or a key of its own beside the record."""

from __future__ import annotations

import sqlite3
from functools import cached_property
from typing import Any, Generic, TypeVar

from pydantic import TypeAdapter

RECORD = "record"  # the column that holds the JSON
R = TypeVar("R")


class Records(Generic[R]):
    """The records of one kind, a frozen dataclass; fields ``without`` are not kept and get their defaults."""

    def __init__(self, table: str, kind: type[R], without: dict[str, Any] | None = None) -> None:
        """Keep records of a kind in a table; ``without`` is written as for pydantic's ``exclude``."""
        self._table, self._kind, self._without = table, kind, without

    @cached_property
    def _json(self) -> TypeAdapter[R]:
        return TypeAdapter(self._kind)

    def keep(self, db: sqlite3.Connection, record: R, **columns: str | int) -> int:
        """Add a record with its other columns, in place of one with the same key; its row number."""
        names = ", ".join((*columns, RECORD))
        places = ", ".join("?" * (len(columns) + 1))
        text = self._json.dump_json(record, exclude=self._without).decode()
        command = f"INSERT OR REPLACE INTO {self._table} ({names}) VALUES ({places})"
        return int(db.execute(command, (*columns.values(), text)).lastrowid or 0)

    def rows(self, db: sqlite3.Connection, where: str = "TRUE", *values: str | int) -> list[tuple[sqlite3.Row, R]]:
        """The rows for which ``where`` holds, in the order in which they came, each with its record."""
        found = db.execute(f"SELECT * FROM {self._table} WHERE {where} ORDER BY rowid", values).fetchall()
        return [(row, self._json.validate_json(row[RECORD])) for row in found]
