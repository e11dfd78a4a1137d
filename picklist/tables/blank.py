"""Blank workbooks for a new site, made from the declarations of the tables."""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

from openpyxl import Workbook
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation

from picklist.tables.book import save_settled
from picklist.tables.columns import CellType, Column, Table
from picklist.tables.examples import example_rows
from picklist.tables.files import check_folder
from picklist.tables.lay_out import lay_out
from picklist.tables.schema import BY_NAME, SCHEDULE, SETTING_ROWS, TABLES
from picklist.tables.write import table_sheet

# Drop-downs reach only sheets of their own workbook, so all tables that refer to each other are
# together; the schedule changes all evening and has a file of its own.
BLANK_BOOKS: dict[str, tuple[str, ...]] = {
    "schedule": (SCHEDULE.name,),
    "site": tuple(table.name for table in TABLES if table is not SCHEDULE),
}
LAST_ROW = 20_000  # drop-downs reach this far down
EXAMPLE_FONT = Font(italic=True, color="666666")
LONGEST_LIST = 250  # a spreadsheet takes lists of up to 255 characters


def write_blank(folder: Path, today: date) -> tuple[Path, ...]:
    """Write the blank workbooks of a new site into the folder; give their paths.

    Each sheet has its header frozen, a note on each header, drop-downs for choices and for ids
    of other tables, columns of ids formatted as text, and lines that are plainly examples, with
    days that are still to come on ``today``. The folder as written can be read without problems.
    Existing files of those names raise FileExistsError, so that nobody's work is lost; when one
    cannot be written, none is left.
    """
    check_folder(folder)
    paths = {book: folder / f"{book}.xlsx" for book in BLANK_BOOKS}
    for path in paths.values():
        if path.exists():
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(path))
    lines = example_rows(today)
    try:
        for book, names in BLANK_BOOKS.items():
            workbook = Workbook(write_only=True)
            for name in names:
                table, font = BY_NAME[name], None if name == "Settings" else EXAMPLE_FONT
                choices = tuple(_choices(table, frozenset(names)))
                lay_out(workbook, table_sheet(table, lines[name], font=font, for_blank=True, choices=choices))
            save_settled(workbook, paths[book])
    except BaseException:  # half a site would be in the way of the next try
        for path in paths.values():
            path.unlink(missing_ok=True)
        raise
    return tuple(paths.values())


def _choices(table: Table, beside: frozenset[str]) -> Iterator[DataValidation]:
    """Drop-downs and bounds of a table's columns, and of each setting."""
    for number, column in enumerate(table.columns, start=1):
        letter = get_column_letter(number)
        for validation in (_drop_down(column, beside), _bounds(column)):
            if validation is not None:
                validation.add(f"{letter}2:{letter}{LAST_ROW}")
                yield validation
    for row, setting in enumerate(SETTING_ROWS if table.name == "Settings" else (), start=2):
        validation = _drop_down(setting, frozenset())
        if validation is not None:
            validation.add(f"B{row}")
            yield validation


def _drop_down(column: Column, beside: frozenset[str]) -> DataValidation | None:
    named = ", ".join(column.choices)
    if column.type is CellType.CHOICE:
        return _list(column.choices, f"one of {named}")
    if column.type is CellType.CHOICES:
        return _list(column.choices, f"one of {named}, or several separated by ;", errorStyle="warning")
    if column.type is CellType.YES_NO:
        return _list(("yes", "no"), "yes or no")
    if column.type is CellType.CODE and column.refers_to in beside:
        return _from_table(BY_NAME[column.refers_to])
    return None


def _list(words: tuple[str, ...], expected: str, **how: str) -> DataValidation | None:
    text = ",".join(words)
    if len(text) > LONGEST_LIST:
        return None
    return _checked("Not allowed here", f"Expected {expected}.", type="list", formula1=f'"{text}"', **how)


def _from_table(table: Table) -> DataValidation:
    key = table.key[0] if table.key else table.columns[0].name
    letter = get_column_letter([one.name for one in table.columns].index(key) + 1)
    cells = f"'{table.name}'!${letter}$2:${letter}${LAST_ROW}"
    unknown = f"This id is not in {table.name}. Add it there first."
    return _checked("Not known", unknown, type="list", formula1=cells, errorStyle="warning")


def _bounds(column: Column) -> DataValidation | None:
    if column.type not in (CellType.WHOLE, CellType.NUMBER) or column.least is None:
        return None
    kind = "whole" if column.type is CellType.WHOLE else "decimal"
    least, said = f"{column.least:g}", f"{column.help}."
    if column.most is None:
        return _checked("Not allowed here", said, type=kind, operator="greaterThanOrEqual", formula1=least)
    most = f"{column.most:g}"
    return _checked("Not allowed here", said, type=kind, operator="between", formula1=least, formula2=most)


def _checked(title: str, error: str, **how: Any) -> DataValidation:
    """What a cell takes, and what whoever types something else is told."""
    return DataValidation(allow_blank=True, showErrorMessage=True, errorTitle=title, error=error[:220], **how)
