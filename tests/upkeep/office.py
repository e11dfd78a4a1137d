"""An office at its desk: its workbook filled in, mangled on the way, and taken back."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path
from typing import Any

import openpyxl
from openpyxl.worksheet.worksheet import Worksheet

from picklist.upkeep.change_log import cards_state
from picklist.upkeep.office_book import write_office_workbook
from picklist.upkeep.office_compare import Comparison, compare_return
from picklist.upkeep.office_return import OfficeReturn, read_office_workbook
from picklist.upkeep.owners import Owner
from tests.upkeep.clinic import DAY, QUILL, read_clinic

COLUMNS = {"what": 1, "name": 2, "open": 3, "hold": 4, "note": 5, "word": 6, "when": 7}


def send(clinic: Path, path: Path, owner: Owner = QUILL) -> Path:
    """The owner's workbook, as it is sent to the office."""
    write_office_workbook(read_clinic(clinic), owner, path, day=DAY)
    return path


def take_back(clinic: Path, path: Path) -> Comparison:
    """The comparison of a returned file with the clinic as it is now."""
    return compare_return(read_clinic(clinic), returned(path), DAY)


def returned(path: Path) -> OfficeReturn:
    """A returned file, which must carry its stamp."""
    found, problems = read_office_workbook(path)
    assert found is not None, problems
    return found


def fill_in(path: Path, fill: Callable[[Worksheet], None], sheet: str = "KNEE") -> Path:
    """Open a workbook, fill in a card, save it."""
    workbook = openpyxl.load_workbook(path)
    fill(workbook[sheet])
    workbook.save(path)
    return path


def row_of(sheet: Worksheet, thing: str) -> int:
    """The row in which a thing stands."""
    return next(n for n in range(1, sheet.max_row + 1) if f"({thing})" in str(sheet.cell(n, 2).value) and n > 5)


def write(sheet: Worksheet, row: int, **cells: Any) -> None:
    """Write cells of a row by the short names of their columns."""
    for name, value in cells.items():
        sheet.cell(row, COLUMNS[name]).value = value


def new_row(sheet: Worksheet, nth: int = 0) -> int:
    """One of the empty boxes for new lines."""
    return [n for n in range(6, sheet.max_row + 1) if sheet.cell(n, 9).value == "new"][nth]


def ask_row(sheet: Worksheet) -> int:
    """The first row for asking for what is not in the catalogue."""
    return next(n for n in range(6, sheet.max_row + 1) if sheet.cell(n, 1).value == "ask")


def save_as_csv(path: Path, target: Path, sheet: str = "KNEE", delimiter: str = ";", keep: int = 10) -> Path:
    """One sheet as another program would save it as CSV, with its first ``keep`` columns."""
    rows = openpyxl.load_workbook(path)[sheet].iter_rows(values_only=True)
    with target.open("w", encoding="cp1252", newline="") as file:
        writer = csv.writer(file, delimiter=delimiter)
        writer.writerows(["" if value is None else value for value in row[:keep]] for row in rows)
    return target


def changes_of(comparison: Comparison) -> dict[str, tuple[int, int] | None]:
    """What is proposed: open and hold (None: dropped) by the thing wanted or dropped."""
    made: dict[str, tuple[int, int] | None] = {}
    for one in comparison.proposal.changes:
        made[one.after.thing if one.after else one.slot.thing] = (one.after.open, one.after.hold) if one.after else None
    return made


def kinds_of(comparison: Comparison) -> list[str]:
    """The kinds of all problems."""
    return [problem.kind for problem in comparison.problems]


def forget_sent(clinic: Path) -> None:
    """Lose all record of the workbooks that were sent."""
    with cards_state(clinic) as state, state.writing() as db:
        db.execute("DELETE FROM card_sent")
