"""The sheet of answers in a workbook that goes back: what was taken in, and what is still to be done."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from openpyxl import Workbook
from openpyxl.styles import Alignment, Font
from openpyxl.worksheet.hyperlink import Hyperlink
from openpyxl.worksheet.worksheet import Worksheet

from picklist.model.site import Site
from picklist.problems import Problem
from picklist.tables.book import lock_sheet, put_value, set_up_page
from picklist.upkeep.office_book import ANSWERS_SHEET
from picklist.upkeep.office_compare import Comparison
from picklist.upkeep.office_style import (
    HEAD,
    HEAD_BORDER,
    HEAD_FILL,
    LETTERS,
    LINE_HEIGHT,
    LINK,
    RULE,
    SUBTITLE,
    TEXT,
    TITLE,
    lines_needed,
)
from picklist.upkeep.proposals import card_name, change_text, request_text

WIDTHS = {"A": 22, "B": 10, "C": 30, "D": 48, "E": 48}
Place = tuple[str, int]
SEEN = "We saw this outside the boxes; it was not taken in. Please use the boxes."


def fill_answers(workbook: Workbook, site: Site, comparison: Comparison, places: Mapping[Place, Place]) -> None:
    """Put the sheet of answers behind the first sheet, in the place of an earlier one.

    ``places`` tell where the rows of the problems are in this workbook: (sheet, row) -> (sheet, row).
    """
    if ANSWERS_SHEET in workbook.sheetnames:
        del workbook[ANSWERS_SHEET]
    sheet = workbook.create_sheet(ANSWERS_SHEET, 1)
    for letter, width in WIDTHS.items():
        sheet.column_dimensions[letter].width = width
    _say(sheet, 1, "Answers to your workbook", TITLE)
    _say(sheet, 2, _summary(comparison), SUBTITLE)
    row = _list_problems(sheet, comparison, places, 4)
    row = _list_seen(sheet, comparison, places, row + 1)
    row = _list_texts(sheet, row + 1, "Taken in; waits for approval. Do not type it again.", _changes(site, comparison))
    row = _list_texts(sheet, row + 1, "Asked for; somebody will answer.", _requests(site, comparison))
    notices = [f"{one.where.sheet or one.where.file}: {one.message}" for one in comparison.notices]
    _list_texts(sheet, row + 1, "Good to know.", notices)
    _set_up(sheet, site)
    workbook.active = 1


def _summary(comparison: Comparison) -> str:
    mistakes, clashes = len(comparison.mistakes), len(comparison.clashes)
    taken = len(comparison.proposal.changes)
    marked = "each in a cell with a thick frame and a note"
    return f"{taken} changes taken in; {mistakes} to fix and {clashes} to answer, {marked}"


def _list_problems(sheet: Worksheet, comparison: Comparison, places: Mapping[Place, Place], row: int) -> int:
    problems = [*(clash.problem for clash in comparison.clashes), *comparison.mistakes]
    if not problems:
        _say(sheet, row, "Nothing to fix.", TEXT)
        return row + 1
    for letter, head in zip(
        "ABCDE", ("Sheet", "Cell", "You wrote", "What is wrong", "What would be right"), strict=True
    ):
        cell = sheet[f"{letter}{row}"]
        cell.value, cell.font, cell.fill, cell.border = head, HEAD, HEAD_FILL, HEAD_BORDER
    for problem in problems:
        row += 1
        _list_problem(sheet, row, problem, places)
    return row + 1


def _list_seen(sheet: Worksheet, comparison: Comparison, places: Mapping[Place, Place], row: int) -> int:
    if not comparison.outside:
        return row
    _say(sheet, row, SEEN, HEAD)
    for problem in comparison.outside:
        row += 1
        _list_problem(sheet, row, problem, places)
    return row + 1


def _list_problem(sheet: Worksheet, row: int, problem: Problem, places: Mapping[Place, Place]) -> None:
    title, number = places.get((problem.where.sheet, problem.where.row or 0), (problem.where.sheet, 0))
    letter = problem.where.cell.rstrip("0123456789") or LETTERS.get(problem.where.column, "")
    cell = f"{letter}{number}" if number else ""
    right = problem.expected
    if problem.nearest:
        right = f"{right}; perhaps {' or '.join(problem.nearest)}" if right else " or ".join(problem.nearest)
    values = (title, cell, problem.value, problem.message, right)
    for place, value in zip("ABCDE", values, strict=True):
        _put(sheet[f"{place}{row}"], value)
    if cell:
        quoted = title.replace("'", "''")
        sheet[f"B{row}"].hyperlink = Hyperlink(ref=f"B{row}", location=f"'{quoted}'!{cell}")
        sheet[f"B{row}"].font = LINK
    needed = max(lines_needed(value, WIDTHS[place]) for place, value in zip("ABCDE", values, strict=True))
    sheet.row_dimensions[row].height = LINE_HEIGHT * needed + 2


def _list_texts(sheet: Worksheet, row: int, head: str, texts: list[str]) -> int:
    if not texts:
        return row
    _say(sheet, row, head, HEAD)
    for text in texts:
        row += 1
        sheet.merge_cells(f"A{row}:E{row}")
        _put(sheet[f"A{row}"], text)
        sheet.row_dimensions[row].height = LINE_HEIGHT * lines_needed(text, sum(WIDTHS.values())) + 2
    return row + 1


def _changes(site: Site, comparison: Comparison) -> list[str]:
    return [f"{card_name(site, one.procedure)}: {change_text(site, one)}" for one in comparison.proposal.changes]


def _requests(site: Site, comparison: Comparison) -> list[str]:
    return [f"{card_name(site, one.procedure)}: {request_text(one)}" for one in comparison.proposal.requests]


def _say(sheet: Worksheet, row: int, text: str, font: Font) -> None:
    cell: Any = sheet[f"A{row}"]
    put_value(cell, text)
    cell.font = font


def _put(cell: Any, value: str) -> None:
    cell.font, cell.border = TEXT, RULE
    cell.alignment = Alignment(horizontal="left", vertical="top", wrap_text=True)
    put_value(cell, value)


def _set_up(sheet: Any, site: Site) -> None:
    lock_sheet(sheet)
    set_up_page(sheet, titles="4:4", paper=site.settings.paper, margins={"left": 0.4, "right": 0.4})
    sheet.oddFooter.right.text = "page &P of &N"
