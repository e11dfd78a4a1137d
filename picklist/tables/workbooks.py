"""Sheets of a workbook as grids; values come from calamine, what it does not see from ``flags``."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import python_calamine

from picklist.tables.cells import CellFlaw, Fault, Grid, number_text
from picklist.tables.file_safety import BROKEN, DAMAGED, workbook_fault
from picklist.tables.sheet_flags import SheetFlags, flags_of_workbook, letters_of
from picklist.tables.xlsx_parts import XmlTrapError

FAR_CELLS = 2_000_000


def sheet_names(path: Path) -> tuple[tuple[str, ...], Fault | None]:
    """Names of a workbook's sheets, or why it cannot be opened."""
    fault = workbook_fault(path)
    if fault:
        return (), fault
    try:
        return tuple(_open(path).sheet_names), None
    except (python_calamine.CalamineError, OSError):
        return (), DAMAGED


def read_sheets(path: Path, wanted: Callable[[str], bool]) -> tuple[list[Grid], list[tuple[str, Fault]]]:
    """Grids of the wanted sheets of a workbook that passed ``sheet_names``, and (sheet, fault) of those not read."""
    try:
        flags = flags_of_workbook(path, wanted)
        workbook = _open(path)
    except (*BROKEN, XmlTrapError, ValueError, python_calamine.CalamineError):
        return [], [("", DAMAGED)]
    grids: list[Grid] = []
    faults: list[tuple[str, Fault]] = []
    for sheet in workbook.sheets_metadata:
        if not wanted(sheet.name) or sheet.typ != python_calamine.SheetTypeEnum.WorkSheet:
            continue
        seen = flags.get(sheet.name)
        fault = _no_such_cell(seen) or _far_fault(seen) if seen else DAMAGED
        if seen and fault is None:
            grid = _grid(path, workbook, sheet, seen)
            fault = DAMAGED if grid is None else None
        if fault:
            faults.append((sheet.name, fault))
        elif grid:
            grids.append(grid)
    return grids, faults


def _open(path: Path) -> python_calamine.CalamineWorkbook:
    """A workbook by what is in it, whatever its name ends in."""
    with path.open("rb") as file:
        return python_calamine.CalamineWorkbook.from_filelike(file)


def _grid(path: Path, workbook: python_calamine.CalamineWorkbook, sheet: object, seen: SheetFlags) -> Grid | None:
    name = sheet.name  # type: ignore[attr-defined]
    try:
        rows = workbook.get_sheet_by_name(name).to_python(skip_empty_area=False)
    except (python_calamine.CalamineError, OSError):
        return None
    _put_flags(rows, seen)
    return Grid(
        file=path.name,
        sheet=name,
        rows=rows,
        hidden=sheet.visible != python_calamine.SheetVisibleEnum.Visible,  # type: ignore[attr-defined]
        hidden_rows=frozenset(seen.hidden_rows),
        struck=frozenset(seen.struck),
        months=frozenset(seen.months),
        hidden_columns=frozenset(seen.hidden_columns),
        merged=tuple(seen.merged),
    )


def _put_flags(rows: list[Any], seen: SheetFlags) -> None:
    for place, text in seen.errors.items():
        _put(rows, place, CellFlaw("error value", text))
    for place in seen.uncomputed:
        _put(rows, place, CellFlaw("no stored value"))
    for (row, column), digits in seen.zeros.items():
        if row < len(rows) and column < len(rows[row]):
            raw = rows[row][column]
            if isinstance(raw, int | float) and math.isfinite(raw) and raw == int(raw) and raw >= 0:
                rows[row][column] = number_text(raw).zfill(digits)


def _put(rows: list[Any], place: tuple[int, int], flaw: CellFlaw) -> None:
    row, column = place
    while len(rows) <= row:
        rows.append([])
    while len(rows[row]) <= column:
        rows[row].append("")
    rows[row][column] = flaw


def _no_such_cell(seen: SheetFlags) -> Fault | None:
    if not seen.no_such_cell:
        return None
    return Fault(
        kind="no such cell",
        message=f"the file names a cell '{seen.no_such_cell}', which no sheet can have",
        expected="cells from A1 to XFD1048576; open the workbook in a spreadsheet program and save it again",
    )


def _far_fault(seen: SheetFlags) -> Fault | None:
    row, column = seen.last
    area = (row + 1) * (column + 1)
    if area <= FAR_CELLS or area <= 50 * seen.cells:
        return None
    return Fault(
        kind="stray cell",
        message=f"there is something far away from the table, as far as {letters_of(column)}{row + 1}",
        expected="nothing outside the table; delete the rows and columns beyond it",
    )
