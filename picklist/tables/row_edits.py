"""Rows of a site's tables written anew in the files that hold them; a row is found again by where it was read."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from picklist.problems import Where
from picklist.tables.cells import CUT_OFF, Grid, is_empty
from picklist.tables.columns import Table
from picklist.tables.csv_files import read_csv_file
from picklist.tables.drafts import Ledger
from picklist.tables.file_set import ChangedMeanwhileError
from picklist.tables.files import BusyError
from picklist.tables.headers import Header, find_header
from picklist.tables.sheet_edit import edit_cells
from picklist.tables.sheet_styles import Value
from picklist.tables.workbooks import read_sheets


@dataclass(slots=True, kw_only=True)
class SheetEdits:
    """What is to be written in one sheet or CSV file of a table; rows and columns from 0."""

    table: Table
    grid: Grid
    header: Header
    last_row: int
    cells: dict[tuple[int, int], Value] = field(default_factory=dict)
    gone: set[int] = field(default_factory=set)
    appended: int = 0

    def lacks(self, columns: Iterable[str]) -> list[str]:
        """Those of some columns that the sheet does not have."""
        return [name for name in columns if name not in self.header.positions]

    def write(self, where: Where, values: Mapping[str, Value]) -> None:
        """Write cells of a row by column name, all others as they are."""
        self._write(_row(where), values)

    def add(self, values: Mapping[str, Value]) -> None:
        """Write a new row below the last one."""
        self.appended += 1
        self._write(self.last_row + self.appended, values)

    def take_out(self, where: Where) -> None:
        """Let a row go; a sheet keeps it, emptied."""
        self.gone.add(_row(where))

    def _write(self, row: int, values: Mapping[str, Value]) -> None:
        for name, value in values.items():
            column = self._column(name, value)
            if column is not None:
                self.cells[row, column] = value

    def _column(self, name: str, value: Value) -> int | None:
        """The column of a name; a new one is made only for a value that is not the default. Raises BusyError."""
        positions = self.header.positions
        if name in positions:
            return positions[name]
        if value in (None, "", 0) or value == self.table.column(name).default:
            return None
        place = max(len(self.grid.rows[self.header.row]), *(one + 1 for one in positions.values()))
        if any(not is_empty(raw) for row in self.grid.rows for raw in row[place:]):  # it would stand in the new column
            raise BusyError(
                f"{self.grid.file} has a row with more cells than headers, so the column '{name}' cannot be added; "
                "take out first what is too much there"
            )
        positions[name] = place
        self.cells[self.header.row, place] = name
        return place


class RowEdits:
    """Edits of rows of a folder's tables, gathered, and the contents of the files with all of them."""

    def __init__(self, folder: Path, files: Mapping[str, bytes]) -> None:
        """Take the contents of all files as they were just before the rows were read."""
        self._folder, self._files = folder, files
        self._sheets: dict[tuple[str, str], SheetEdits] = {}

    def sheet(self, table: Table, where: Where) -> SheetEdits:
        """The sheet or CSV file of a place. Raises ChangedMeanwhileError when its file is not as it was read."""
        key = where.file, where.sheet
        if key not in self._sheets:
            self._sheets[key] = self._open(table, where.file, where.sheet)
        return self._sheets[key]

    def _open(self, table: Table, file: str, sheet: str) -> SheetEdits:
        path = self._folder / file
        as_read = path.is_file() and path.read_bytes() == self._files.get(file)
        grids = _grids(path, sheet) if as_read else []
        header = find_header(grids[0], table, Ledger()) if grids else None
        if header is None:
            raise ChangedMeanwhileError(file)
        [grid] = grids
        if CUT_OFF in grid.rows[-1]:  # a row below it would make half a row look whole
            raise BusyError(
                f"{file} may be cut off within its last row; put the whole file in its place first, "
                "or a line end after the row where it is whole"
            )
        filled = [number for number, row in enumerate(grid.rows) if any(not is_empty(raw) for raw in row)]
        return SheetEdits(table=table, grid=grid, header=header, last_row=max(filled))

    def contents(self) -> dict[str, bytes]:
        """The new contents of the files that change, by name; nothing but the written cells differs."""
        made: dict[str, bytes] = {}
        for (file, sheet), edits in self._sheets.items():
            if edits.cells or edits.gone:
                gone = {row: edits.header.positions.values() for row in edits.gone}
                before = made.get(file, self._files[file])
                made[file] = edit_cells(before, sheet, edits.cells, like_row=edits.last_row, gone=gone)
        return {file: made[file] for file in sorted(made) if made[file] != self._files[file]}


def _grids(path: Path, sheet: str) -> list[Grid]:
    if sheet:
        return read_sheets(path, lambda name: name == sheet)[0]
    grid, _ = read_csv_file(path)
    return [grid] if grid else []


def _row(where: Where) -> int:
    assert where.row is not None
    return where.row - 1
