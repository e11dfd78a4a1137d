"""What could not be taken in goes back in the office's own workbook: marked, noted in the cell, and listed.

Everything that the office wrote stays as it is, so that nothing valid is typed twice; but what seems to tell who a
patient is goes no further, the marked copy included.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

from openpyxl import Workbook
from openpyxl.cell.cell import MergedCell
from openpyxl.comments import Comment
from openpyxl.utils import column_index_from_string
from openpyxl.worksheet.worksheet import Worksheet

from picklist.letters import whole_number
from picklist.model.site import Site
from picklist.problems import Problem, Severity
from picklist.tables.book import put_value, save_settled
from picklist.tables.cells import PRIVATE, Raw, is_empty
from picklist.tables.lay_out import AUTHOR, LaidCell, LaidRow, LaidSheet, Page, lay_out, row_of
from picklist.tables.private import looks_private
from picklist.upkeep import office_style as style
from picklist.upkeep.entries import list_entries
from picklist.upkeep.office_book import ANSWERS_SHEET, make_book, sheet_titles
from picklist.upkeep.office_compare import Clash, Comparison
from picklist.upkeep.office_outside import DRAWING
from picklist.upkeep.office_plan import ASK, BookPlan, RowPlan, SheetPlan, sheet_heading
from picklist.upkeep.office_return import OfficeReturn, OfficeRow, OfficeSheet
from picklist.upkeep.office_sheet import row_numbers
from picklist.upkeep.owners import owner_name
from picklist.upkeep.proposals import card_name, change_text, request_text
from picklist.upkeep.stamps import (
    STAMP_SHEET,
    is_ours,
    keep_known_texts,
    known_texts,
    load_office_book,
    read_mark,
    row_mark,
    stamp_sheet,
    written_cells,
)
from picklist.wording import counted

Place = tuple[str, int]  # sheet, row


def write_back(site: Site, returned: OfficeReturn, comparison: Comparison, path: Path) -> None:
    """Write the returned workbook with its clashes and mistakes marked.

    A CSV file goes back as a workbook with the card that it held, filled in as it was.
    """
    if returned.is_csv:
        workbook, moved = _rebuild(site, returned)
    else:
        workbook, moved = load_office_book(returned.path), {}
    _clear_marks(workbook)
    for problem in comparison.problems:
        _empty_private(_cell(workbook, problem, moved), problem, comparison.proposal.day)
    for problem in comparison.problems:
        if problem.severity is not Severity.NOTICE:
            _mark(workbook, problem, moved)
    for problem in comparison.outside:
        cell = _cell(workbook, problem, moved) if problem.kind == DRAWING else None
        if cell is not None:
            _note(cell, note_text(problem))  # the library that saves the copy drops shapes and text boxes
    for clash in comparison.clashes:
        _ask(workbook, returned, clash, moved)
    fill_answers(workbook, site, comparison, {place: _moved(place, moved) for place in _places(comparison)})
    if STAMP_SHEET in workbook.sheetnames:
        keep_known_texts(workbook, (ANSWERS_SHEET,))
    save_settled(workbook, path)


def _places(comparison: Comparison) -> set[Place]:
    return {(one.where.sheet, one.where.row) for one in comparison.problems if one.where.row}


def _moved(place: Place, moved: Mapping[Place, Place]) -> Place:
    return moved.get(place, place)


def _empty_private(cell: Any, problem: Problem, today: date) -> None:
    """Empty a cell of which a problem says that it seems to tell of a patient, or that seems to, outside the boxes."""
    if cell is None:
        return
    if problem.kind == PRIVATE or looks_private(str(cell.value or ""), today):
        cell.value = None
    if cell.comment and looks_private(cell.comment.text, today):
        cell.comment = None


def _mark(workbook: Workbook, problem: Problem, moved: Mapping[Place, Place]) -> None:
    cell = _cell(workbook, problem, moved)
    if cell is None:
        return
    cell.border, cell.fill = style.WRONG_BORDER, style.WRONG_FILL
    _note(cell, note_text(problem))


def _note(cell: Any, text: str) -> None:
    """Put a note on a cell, below one of ours that is there."""
    if cell.comment and cell.comment.author != AUTHOR:
        return  # somebody's own note stays; the answer is on the sheet of answers
    if cell.comment:
        text = f"{cell.comment.text}\n{text}"
    note = Comment(text, AUTHOR)
    note.width, note.height = 320, 40 + 18 * (len(text) // 42 + text.count("\n") + 1)
    cell.comment = note


def note_text(problem: Problem) -> str:
    """A problem as the note of a cell."""
    text = f"{problem.message[:1].upper()}{problem.message[1:]}."
    if problem.expected:
        text += f" Expected: {problem.expected}."
    if problem.nearest:
        text += f" Did you mean {' or '.join(problem.nearest)}?"
    return text


def _cell(workbook: Workbook, problem: Problem, moved: Mapping[Place, Place]) -> Any:
    where = problem.where
    if where.row is None:
        return None
    sheet, row = _moved((where.sheet, where.row), moved)
    if sheet not in workbook.sheetnames:
        return None
    letters = where.cell.rstrip("0123456789") or style.LETTERS.get(where.column, "B")
    return _unmerged(workbook[sheet], row, column_index_from_string(letters))


def _unmerged(sheet: Worksheet, row: int, column: int) -> Any:
    """A cell; of merged ones the first, which alone can hold anything."""
    for area in sheet.merged_cells.ranges:
        if area.min_row <= row <= area.max_row and area.min_col <= column <= area.max_col:
            return sheet.cell(area.min_row, area.min_col)
    return sheet.cell(row, column)


def _clear_marks(workbook: Workbook) -> None:
    """Take off what an earlier return was marked with."""
    known = known_texts(workbook)
    for sheet in workbook.worksheets:
        if sheet.title == ANSWERS_SHEET:
            continue
        for cell in written_cells(sheet):
            ours = is_ours(cell.comment, known)
            if ours or cell.fill.fgColor.rgb == style.WRONG_FILL.fgColor.rgb:
                cell.border, cell.fill = (
                    (style.RULE, style.NO_FILL) if cell.protection.locked else (style.BOX, style.INPUT_FILL)
                )
            if ours:
                cell.comment = None


def _ask(workbook: Workbook, returned: OfficeReturn, clash: Clash, moved: Mapping[Place, Place]) -> None:
    """Stamp the row anew with what the master says, so that the office's answer can be told from an oversight."""
    mark = row_mark(returned.stamp, clash.stamp)
    _stamp_again(workbook, clash.stamp.key, mark)
    place = _moved((clash.row.source.sheet, clash.row.number), moved)
    if place[0] not in workbook.sheetnames:
        return
    sheet = workbook[place[0]]
    letters = dict(style.LETTERS) if moved else {**dict.fromkeys(style.LETTERS, ""), **clash.row.source.letters}
    for header, text in (("Line", clash.stamp.key), ("As sent", mark)):
        if letters.get(header):
            cell = sheet[f"{letters[header]}{place[1]}"]
            if not isinstance(cell, MergedCell):  # the sheet of stamps knows the row as well
                put_value(cell, text)
    if letters.get("Keep or drop"):
        word = _unmerged(sheet, place[1], column_index_from_string(letters["Keep or drop"]))
        word.protection, word.border, word.fill = style.OPEN_CELL, style.BOX, style.INPUT_FILL
        _offer_words(sheet, word.coordinate)


def _offer_words(sheet: Worksheet, place: str) -> None:
    for choice in sheet.data_validations.dataValidation:
        if "mine counts" in str(choice.formula1) and place not in choice.sqref:
            choice.add(place)


def _stamp_again(workbook: Workbook, key: str, mark: str) -> None:
    if STAMP_SHEET not in workbook.sheetnames:
        return
    sheet = stamp_sheet(workbook)
    number = sheet.max_row + 1
    for place, row in enumerate(sheet.iter_rows(max_col=1), start=1):
        known = read_mark(row[0].value)
        if known and known[1].key == key:
            number = place
    put_value(sheet.cell(number, 1), mark)


def _rebuild(site: Site, returned: OfficeReturn) -> tuple[Workbook, dict[Place, Place]]:
    """A workbook with the cards of a CSV file, filled in as they came back, and where its rows are now."""
    plans = tuple(_planned(site, sheet) for sheet in returned.sheets)
    plan = BookPlan(
        owner=returned.stamp.owner,
        owner_name=owner_name(site, returned.stamp.owner),
        site=site,
        stamp=replace(returned.stamp),
        entries=list_entries(site),
        sheets=plans,
    )
    moved: dict[Place, Place] = {}
    for sheet, one, title in zip(returned.sheets, plans, sheet_titles(plan), strict=True):
        for row, number in zip(_in_order(sheet), row_numbers(one), strict=True):
            moved[sheet.name, row.number] = (title, number)
    return make_book(plan), moved


def _in_order(sheet: OfficeSheet) -> list[OfficeRow]:
    """The rows of a returned card, what is asked for at the end."""
    return sorted(sheet.rows, key=lambda row: row.is_ask)


def _planned(site: Site, sheet: OfficeSheet) -> SheetPlan:
    return SheetPlan(
        procedure=sheet.procedure,
        title=sheet.procedure or "Every procedure",
        heading=sheet_heading(site, sheet.procedure),
        rows=tuple(_row_plan(row) for row in _in_order(sheet)),
    )


def _row_plan(row: OfficeRow) -> RowPlan:
    cells = {column.name: _kept(row, column.name) for column in style.COLUMNS}
    cells |= {"Line": row.key} | ({"What": ASK} if row.is_ask else {})
    return RowPlan(use=row.use, cells=cells, own=row.text("Comes from").startswith("own"))


def _kept(row: OfficeRow, header: str) -> Raw:
    raw = row.cells.get(header)
    if is_empty(raw):
        return None
    number = whole_number(raw.strip()) if isinstance(raw, str) and header in ("Open", "Hold") else None
    return raw if number is None else number


WIDTHS = (22, 10, 30, 48, 48)
SEEN = "We saw this outside the boxes; it was not taken in. Please use the boxes."


def fill_answers(workbook: Workbook, site: Site, comparison: Comparison, places: Mapping[Place, Place]) -> None:
    """Put the sheet of answers behind the first sheet, in the place of an earlier one.

    ``places`` tell where the rows of the problems are in this workbook: (sheet, row) -> (sheet, row).
    """
    if ANSWERS_SHEET in workbook.sheetnames:
        del workbook[ANSWERS_SHEET]
    problems = [*(clash.problem for clash in comparison.clashes), *comparison.mistakes]
    listed = [_problem(one, places) for one in problems]
    heads = row_of(("Sheet", "Cell", "You wrote", "What is wrong", "What to type"), style.COLUMN_HEAD)
    taken = [f"{card_name(site, one.procedure)}: {change_text(site, one)}" for one in comparison.proposal.changes]
    asked = [f"{card_name(site, one.procedure)}: {request_text(one)}" for one in comparison.proposal.requests]
    notices = [f"{one.where.sheet or one.where.file}: {one.message}" for one in comparison.notices]
    rows = (
        row_of(["Answers to your workbook"], style.HEADING),
        row_of([_summary(comparison)], style.LESS),
        LaidRow(),
        *((heads, *listed) if problems else (row_of(["Nothing to fix."], style.PLAIN),)),
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
    return (LaidRow(), row_of([head], style.STRONG), *rows) if rows else ()


def _texts(texts: list[str]) -> list[LaidRow]:
    rows = (style.wrapped_row((LaidCell(value=text, look=style.LINE),), (sum(WIDTHS),)) for text in texts)
    return [replace(row, joined=True) for row in rows]


def _summary(comparison: Comparison) -> str:
    mistakes, clashes = len(comparison.mistakes), len(comparison.clashes)
    taken = len(comparison.proposal.changes)
    marked = "each in a cell with a thick frame and a note"
    return f"{counted(taken, 'change')} taken in; {mistakes} to fix and {clashes} to answer, {marked}"


def _problem(problem: Problem, places: Mapping[Place, Place]) -> LaidRow:
    title, number = places.get((problem.where.sheet, problem.where.row or 0), (problem.where.sheet, 0))
    letter = problem.where.cell.rstrip("0123456789") or style.LETTERS.get(problem.where.column, "")
    cell = f"{letter}{number}" if number else ""
    right = problem.expected
    if problem.nearest:
        right = f"{right}; perhaps {' or '.join(problem.nearest)}" if right else " or ".join(problem.nearest)
    cells = [LaidCell(value=one, look=style.LINE) for one in (title, cell, problem.value, problem.message, right)]
    if cell:
        cells[1] = LaidCell(value=cell, look=style.LINKED, link=(title, cell))
    return style.wrapped_row(tuple(cells), WIDTHS)
