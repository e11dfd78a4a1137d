"""The sheet of answers in a workbook that goes back: what was taken in, and what is still to be done."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from openpyxl import Workbook

from picklist.model.site import Site
from picklist.problems import Problem
from picklist.tables.lay_out import LaidCell, LaidRow, LaidSheet, Page, lay_out, row_of
from picklist.upkeep.office_book import ANSWERS_SHEET
from picklist.upkeep.office_compare import Comparison
from picklist.upkeep.office_style import (
    COLUMN_HEAD,
    HEADING,
    LESS,
    LETTERS,
    LINE,
    LINKED,
    PLAIN,
    STRONG,
    wrapped_row,
)
from picklist.upkeep.proposals import card_name, change_text, request_text

WIDTHS = (22, 10, 30, 48, 48)
Place = tuple[str, int]
SEEN = "We saw this outside the boxes; it was not taken in. Please use the boxes."


def fill_answers(workbook: Workbook, site: Site, comparison: Comparison, places: Mapping[Place, Place]) -> None:
    """Put the sheet of answers behind the first sheet, in the place of an earlier one.

    ``places`` tell where the rows of the problems are in this workbook: (sheet, row) -> (sheet, row).
    """
    if ANSWERS_SHEET in workbook.sheetnames:
        del workbook[ANSWERS_SHEET]
    problems = [*(clash.problem for clash in comparison.clashes), *comparison.mistakes]
    listed = [_problem(one, places) for one in problems]
    heads = row_of(("Sheet", "Cell", "You wrote", "What is wrong", "What would be right"), COLUMN_HEAD)
    taken = [f"{card_name(site, one.procedure)}: {change_text(site, one)}" for one in comparison.proposal.changes]
    asked = [f"{card_name(site, one.procedure)}: {request_text(one)}" for one in comparison.proposal.requests]
    notices = [f"{one.where.sheet or one.where.file}: {one.message}" for one in comparison.notices]
    rows = (
        row_of(["Answers to your workbook"], HEADING),
        row_of([_summary(comparison)], LESS),
        LaidRow(),
        *((heads, *listed) if problems else (row_of(["Nothing to fix."], PLAIN),)),
        *_part(SEEN, [_problem(one, places) for one in comparison.outside]),
        *_part("Taken in; waits for approval. Do not type it again.", _texts(taken)),
        *_part("Asked for; somebody will answer.", _texts(asked)),
        *_part("Good to know.", _texts(notices)),
    )
    page = Page(
        titles="4:4",
        paper=site.settings.paper,
        margins={"left": 0.4, "right": 0.4},
        foot=("", "", "page &P of &N"),
    )
    lay_out(workbook, LaidSheet(name=ANSWERS_SHEET, widths=WIDTHS, rows=rows, allowed=(), page=page), at=1)
    workbook.active = 1


def _part(head: str, rows: list[LaidRow]) -> tuple[LaidRow, ...]:
    return (LaidRow(), row_of([head], STRONG), *rows) if rows else ()


def _texts(texts: list[str]) -> list[LaidRow]:
    rows = (wrapped_row((LaidCell(value=text, look=LINE),), (sum(WIDTHS),)) for text in texts)
    return [replace(row, joined=True) for row in rows]


def _summary(comparison: Comparison) -> str:
    mistakes, clashes = len(comparison.mistakes), len(comparison.clashes)
    taken = len(comparison.proposal.changes)
    marked = "each in a cell with a thick frame and a note"
    return f"{taken} changes taken in; {mistakes} to fix and {clashes} to answer, {marked}"


def _problem(problem: Problem, places: Mapping[Place, Place]) -> LaidRow:
    title, number = places.get((problem.where.sheet, problem.where.row or 0), (problem.where.sheet, 0))
    letter = problem.where.cell.rstrip("0123456789") or LETTERS.get(problem.where.column, "")
    cell = f"{letter}{number}" if number else ""
    right = problem.expected
    if problem.nearest:
        right = f"{right}; perhaps {' or '.join(problem.nearest)}" if right else " or ".join(problem.nearest)
    cells = [LaidCell(value=one, look=LINE) for one in (title, cell, problem.value, problem.message, right)]
    if cell:
        cells[1] = LaidCell(value=cell, look=LINKED, link=(title, cell))
    return wrapped_row(tuple(cells), WIDTHS)
