"""Where in a file the cell of a problem stands, and what is written there for a value typed by hand."""

from __future__ import annotations

import re
from dataclasses import dataclass

from picklist.problems import Where, did_you_mean
from picklist.tables.cells import Grid, Raw, tidy
from picklist.tables.columns import CellType, Column, Table
from picklist.tables.drafts import Ledger
from picklist.tables.folder import FolderTables
from picklist.tables.foreign_schedule import read_export
from picklist.tables.headers import find_header
from picklist.tables.nearest import plain
from picklist.tables.parse import SEVERAL, ColumnParser
from picklist.tables.parse_words import SEPARATORS
from picklist.tables.schema import BY_NAME, SCHEDULE
from picklist.tables.sheet_styles import Value

NUMBERED = re.compile(r"no\. ([0-9]+)")
KEPT_AS_TYPED = frozenset({CellType.WHOLE, CellType.DATE})


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundCell:
    """A cell of a table: 0-based row and place in the file, what it holds, and its column; none for a header."""

    row: int
    place: int
    raw: Raw
    column: Column | None


def find_cell(tables: FolderTables, where: Where) -> FoundCell | None:
    """The cell that a problem names; None where it names none, or the file says something else by now."""
    if where.row is None or not where.column:
        return None
    for name, grids in tables.grids.items():
        for grid in grids:
            if (grid.file, grid.sheet) == (where.file, where.sheet):
                return _in_grid(tables, BY_NAME[name], grid, where)
    return None


def _in_grid(tables: FolderTables, table: Table, grid: Grid, where: Where) -> FoundCell | None:
    read = (tables.export and table is SCHEDULE and read_export(grid, tables.export, Ledger())) or grid
    header = find_header(read, table, Ledger())
    row = (where.row or 0) - 1
    if header is None or not 0 <= row < len(grid.rows):
        return None
    numbered = NUMBERED.fullmatch(where.column)
    if numbered and row == header.row:
        place = int(numbered[1]) - 1
        return FoundCell(row=row, place=place, raw=_raw(grid, row, place), column=None)
    if where.column not in header.positions or row <= header.row:
        return None
    place = read.origin(header.positions[where.column])
    column = table.column(where.column)
    return FoundCell(row=row, place=place, raw=_raw(grid, row, place), column=column)


def _raw(grid: Grid, row: int, place: int) -> Raw:
    cells = grid.rows[row]
    found: Raw = cells[place] if place < len(cells) else None
    return found


def put_right(cell: FoundCell, wrong: str, right: str) -> str | None:
    """The whole text of a cell in which one word is put right; None where it is not certain which one."""
    if cell.column is None or cell.column.type not in SEVERAL or not isinstance(cell.raw, str):
        return right
    pieces = [piece for piece in map(tidy, SEPARATORS.split(cell.raw)) if piece]
    if len(pieces) < 2:
        return right
    alike = [number for number, piece in enumerate(pieces) if wrong and plain(piece) == plain(wrong)]
    if len(alike) != 1:
        return None
    pieces[alike[0]] = right
    return "; ".join(pieces)


def typed_value(cell: FoundCell, text: str) -> tuple[Value, str]:
    """What is written into a cell for a text, and why that cannot stand there; empty where it can."""
    if cell.column is None:
        return text, ""
    parsed, fault = ColumnParser(cell.column)(text)
    if fault is not None:
        near = did_you_mean(fault.nearest)
        return None, f"{fault.message}; expected {fault.expected}{near}"
    return (parsed if cell.column.type in KEPT_AS_TYPED else text), ""
