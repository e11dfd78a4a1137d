"""Edits to card lines turned into the new contents of the files that hold the table Cards."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from pathlib import Path
from typing import Any

from picklist.inputs.fields import fields_of
from picklist.model.cards import CardLine
from picklist.model.site import Site
from picklist.tables.cells import Grid, is_empty, plain_text
from picklist.tables.csv_files import read_csv_file
from picklist.tables.drafts import Ledger
from picklist.tables.file_set import ChangedMeanwhileError
from picklist.tables.folder import read_folder
from picklist.tables.headers import Header, find_header
from picklist.tables.schema import BY_NAME
from picklist.tables.sheet_edit import edit_cells
from picklist.tables.workbooks import read_sheets
from picklist.upkeep.line_edits import LineEdits
from picklist.wording.card_words import condition_words

CARDS = BY_NAME["Cards"]
Value = str | int | date | None
Sheet = tuple[str, str]  # file, sheet


@dataclass(slots=True, kw_only=True)
class _Place:
    """One sheet or CSV file of the master, and what is to be written there; rows and columns from 0."""

    path: Path
    data: bytes
    grid: Grid
    header: Header
    last_row: int
    cells: dict[tuple[int, int], Value] = field(default_factory=dict)
    gone: set[int] = field(default_factory=set)
    appended: int = 0

    def column(self, name: str, value: Value) -> int | None:
        """The column of a name; a new one is made only for a value that is not the default."""
        positions = self.header.positions
        if name in positions:
            return positions[name]
        if value in (None, "", 0) or value == CARDS.column(name).default:
            return None
        place = max(len(self.grid.rows[self.header.row]), *(one + 1 for one in positions.values()))
        positions[name] = place
        self.cells[self.header.row, place] = name
        return place

    def write(self, row: int, values: Mapping[str, Value]) -> None:
        """Write values of a row by column name."""
        for name, value in values.items():
            column = self.column(name, value)
            if column is not None:
                self.cells[row, column] = value


def edit_master(folder: Path, site: Site, edits: LineEdits, files: Mapping[str, bytes]) -> dict[str, bytes]:
    """New contents of the master's files: file name -> bytes, for those that change.

    ``files`` are the contents that ``site`` was read from. Raises ChangedMeanwhileError when a line is
    not where it was.
    """
    places = _Places(folder, files)
    for line, last in edits.ended:
        place = places.of(line)
        place.write(_row(line), {"until": last})
    free = list(edits.taken_out)
    for line in edits.added:
        home = _home(site, line, places)
        reused = next((one for one in free if _sheet(one) == home), None)
        if reused is not None:
            free.remove(reused)
            places.of(reused).write(_row(reused), _values(line))
            continue
        place = places.at(home)
        place.appended += 1
        place.write(place.last_row + place.appended, _values(line))
    for line in free:
        place = places.of(line)
        place.gone.add(_row(line))
    return places.contents()


class _Places:
    def __init__(self, folder: Path, files: Mapping[str, bytes]) -> None:
        self._folder = folder
        self._files = files
        self._open: dict[Sheet, _Place] = {}

    def of(self, line: CardLine) -> _Place:
        """The place of a line, which must still stand there."""
        place = self.at(_sheet(line))
        row = place.grid.rows[_row(line)] if _row(line) < len(place.grid.rows) else []
        column = place.header.positions["thing"]
        if column >= len(row) or is_empty(row[column]):
            raise ChangedMeanwhileError(place.path.name)
        return place

    def at(self, sheet: Sheet) -> _Place:
        """The place of a sheet."""
        if sheet not in self._open:
            self._open[sheet] = _open_place(self._folder / sheet[0], sheet[1], self._files)
        return self._open[sheet]

    def first(self) -> Sheet:
        """Where the table is when it has no line yet."""
        grid = read_folder(self._folder, Ledger()).grids["Cards"][0]
        return grid.file, grid.sheet

    def contents(self) -> dict[str, bytes]:
        """The new contents, checked: nothing but the written cells may differ."""
        made: dict[str, bytes] = {}
        for (file, sheet), place in self._open.items():
            before = made.get(file, place.data)
            made[file] = _edited(place, sheet, before)
        return made


def _open_place(path: Path, sheet: str, files: Mapping[str, bytes]) -> _Place:
    grids = read_sheets(path, lambda name: name == sheet)[0] if sheet else [read_csv_file(path)[0]]
    grid = grids[0] if grids else None
    header = find_header(grid, CARDS, Ledger()) if grid else None
    if grid is None or header is None or path.name not in files:
        raise ChangedMeanwhileError(path.name)
    filled = [number for number, row in enumerate(grid.rows) if any(not is_empty(raw) for raw in row)]
    return _Place(path=path, data=files[path.name], grid=grid, header=header, last_row=max(filled))


def _edited(place: _Place, sheet: str, data: bytes) -> bytes:
    gone = {row: place.header.positions.values() for row in place.gone}
    return edit_cells(data, sheet, place.cells, like_row=place.last_row, gone=gone)


def _sheet(line: CardLine) -> Sheet:
    return line.where.file, line.where.sheet


def _row(line: CardLine) -> int:
    assert line.where.row is not None
    return line.where.row - 1


def _home(site: Site, line: CardLine, places: _Places) -> Sheet:
    """Where a new line belongs: with the lines of its card, or of its surgeon, or at the end of all."""
    same_card = [o for o in site.card_lines if (o.procedure, o.surgeon) == (line.procedure, line.surgeon)]
    same_surgeon = [o for o in site.card_lines if o.surgeon == line.surgeon] if not same_card else []
    for found in (same_card, same_surgeon, list(site.card_lines)):
        if found:
            return _sheet(found[-1])
    return places.first()


def _values(line: CardLine) -> dict[str, Value]:
    """A line as the cells of a row, by what the columns declare."""
    return {one.column: _cell(one.column, getattr(line, one.field)) for one in fields_of(CardLine, CARDS.name)}


def _cell(column: str, value: Any) -> Value:
    if value is None and CARDS.column(column).every:
        return "every"
    if isinstance(value, tuple):
        return "; ".join(condition_words(one) for one in value) or None
    if isinstance(value, bool):
        return plain_text(value)
    return value.value if isinstance(value, StrEnum) else None if value == "" else value
