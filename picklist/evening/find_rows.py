"""Where in the site's files the cells stand that are to change."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import date

from picklist.evening.table_changes import TableChange
from picklist.labels.items import ItemsByLabel, NoItemError
from picklist.model.catalogue import Item
from picklist.model.sets import SetState
from picklist.problems import Problem, Severity, Where
from picklist.settings import DateOrder
from picklist.tables.columns import Table
from picklist.tables.drafts import Ledger
from picklist.tables.folder import FolderTables
from picklist.tables.headers import find_header
from picklist.tables.rows import Row, RowReader
from picklist.tables.schema import BY_NAME
from picklist.wording import counted

# A row is touched only while these still say what they said when the change was worked out.
GUARDS = frozenset({"quantity", "state"})


@dataclass(frozen=True, slots=True, kw_only=True)
class CellEdit:
    """A change and its cell: 1-based ``row``, 0-based ``position``."""

    change: TableChange
    file: str
    sheet: str
    row: int
    position: int


@dataclass(frozen=True, slots=True, kw_only=True)
class _Found:
    row: Row
    positions: dict[str, int]


_Key = tuple[str, tuple[str, ...]]


@dataclass(slots=True)
class Finder:
    """Finds rows by key; of a row that is not found, or says something else now, the change is ``refused``.

    A row may name its item by a maker's label; ``today`` decides the century of its expiry.
    """

    tables: FolderTables
    today: date
    refused: list[TableChange] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    _by_label: ItemsByLabel | None = None

    def find(self, changes: Sequence[TableChange]) -> list[CellEdit]:
        """The cells to edit; all changes of one row are made, or none of them."""
        by_row: dict[_Key, list[TableChange]] = {}
        for change in changes:
            by_row.setdefault((change.table, _plain_key(change.key)), []).append(change)
        rows = {table: self._rows(table) for table in sorted({change.table for change in changes})}
        edits: list[CellEdit] = []
        for (table, key), some in by_row.items():
            found = self._of_row(rows[table].get(key, []), some)
            if found is None:
                self.refused += some
            edits += found or ()
        return edits

    def _rows(self, name: str) -> dict[tuple[str, ...], list[_Found]]:
        table = BY_NAME[name]
        found: dict[tuple[str, ...], list[_Found]] = {}
        for grid in self.tables.grids.get(name, ()):
            header = find_header(grid, table, Ledger())
            if header is None:
                continue
            for row in RowReader(table, grid, header, Ledger(self.today), DateOrder.ANY).rows():
                self._name_item(row, table)
                key = _plain_key(tuple(str(row.values.get(column) or "") for column in table.key))
                one = _Found(row=row, positions=header.positions)
                found.setdefault(key, []).append(one)
        return found

    def _name_item(self, row: Row, table: Table) -> None:
        """Put the item's number in the place of a label that names it."""
        if row.label is None or table.labels is None or not row.label.names_item:
            return
        with suppress(NoItemError):
            row.values[table.labels.item] = self._items().find(row.label).id

    def _items(self) -> ItemsByLabel:
        if self._by_label is None:
            rows = (one.row.values for some in self._rows("Items").values() for one in some)
            self._by_label = ItemsByLabel(
                Item(id=row["item"], name="", gtin=row.get("GTIN") or "", hibc=row.get("HIBC") or "")
                for row in rows
                if row.get("item")
            )
        return self._by_label

    def _of_row(self, found: Sequence[_Found], changes: Sequence[TableChange]) -> list[CellEdit] | None:
        first = changes[0]
        name = " ".join(part for part in first.key if part)
        if len(found) != 1:
            what = f"{first.table} has {counted(len(found), 'row') if found else 'no row'} for {name}"
            self._report("no one row", Where(file="", sheet=first.table), what, name, "one row; nothing was changed")
            return None
        one = found[0]
        for change in (c for c in changes if c.column in GUARDS):
            if not self._says(one.row, change.column, change.was):
                now = one.row.values.get(change.column)
                what = f"{change.column} of {name} is {now} now and was {change.was} when the change was worked out"
                self._report(
                    "changed meanwhile",
                    one.row.where(change.column),
                    what,
                    str(now),
                    "the same command again",
                )
                return None
        return self._edits(one, changes)

    def _says(self, row: Row, column: str, value: object) -> bool:
        said = row.values.get(column)
        return said == value or (column == "state" and not said and value == SetState.UNKNOWN)

    def _edits(self, one: _Found, changes: Sequence[TableChange]) -> list[CellEdit] | None:
        lost = [c.column for c in changes if c.column not in one.positions and c.becomes not in ("", None)]
        if lost:
            what = f"the table has no column for {', '.join(lost)}"
            self._report("missing column", one.row.where(), what, lost[0], "a column with that header")
            return None
        return [
            CellEdit(
                change=change,
                file=one.row.source.file,
                sheet=one.row.source.sheet,
                row=one.row.number,
                position=one.positions[change.column],
            )
            for change in changes
            if change.column in one.positions
        ]

    def _report(self, kind: str, where: Where, message: str, value: str, expected: str) -> None:
        self.problems.append(
            Problem(kind=kind, severity=Severity.TO_MEND, where=where, message=message, value=value, expected=expected)
        )


def _plain_key(key: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(part.casefold() for part in key)
