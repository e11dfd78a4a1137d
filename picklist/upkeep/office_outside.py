"""What was done in a returned workbook outside its boxes: it is seen and listed, and never applied.

An office that writes a comment, colours a line or strikes it through means something by it. Nobody
but a person can say what, so each such place is named, in the answer to the office and to whoever
takes the workbook in. What was written there is not repeated: it could be anything.
"""

from __future__ import annotations

import re
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from openpyxl import Workbook

from picklist.problems import Problem, Where, notice
from picklist.tables.file_safety import BROKEN
from picklist.tables.nearest import plain
from picklist.tables.private import name_to_say
from picklist.tables.sheet_flags import letters_of
from picklist.tables.xlsx_parts import related_parts, sheet_parts
from picklist.upkeep import office_style as style
from picklist.upkeep.office_book import ANSWERS_SHEET, FIRST_SHEET, LIST_SHEET, TOLD_SHEET
from picklist.upkeep.office_plan import RowUse
from picklist.upkeep.office_return import OfficeReturn, OfficeRow, OfficeSheet
from picklist.upkeep.office_sheet import THEIRS
from picklist.upkeep.stamps import (
    STAMP_SHEET,
    is_filled,
    is_ours,
    known_texts,
    load_office_book,
    text_mark,
    written_cells,
)

PLEASE = "what is wanted in the boxes; what has no box, asked for at the foot of the sheet"
WHOLE = "the workbook with all its sheets"
OUR_INKS = {one[-6:] for one in (style.INK, style.GREY, style.LINK_INK)} | {"000000"}
OUR_FILLS = {fill.fgColor.rgb[-6:] for fill in (style.INPUT_FILL, style.HEAD_FILL, style.WRONG_FILL)} | {"FFFFFF"}
CHECKED_APART = frozenset({"Name (number)", "Open", "Hold", "Note", "Keep or drop"})  # of lines that are fixed
KEY = re.compile(r"L([0-9]+)")
ANCHOR = re.compile(rb"<(?:\w+:)?from>\s*<(?:\w+:)?col>(\d+)<.*?<(?:\w+:)?row>(\d+)<", re.DOTALL)
MOST_PLACES = 60  # of one sheet; after that the sheet itself is to be looked at


def find_outside(returned: OfficeReturn) -> tuple[Problem, ...]:
    """What was done outside the boxes of a returned workbook, sheet by sheet. A CSV file shows nothing of it."""
    if returned.is_csv:
        return ()
    workbook = load_office_book(returned.path)
    known = known_texts(workbook)
    cards = {sheet.name: sheet for sheet in returned.sheets}
    unread = {sheet.name for sheet, _ in returned.unread}
    found = list(_missing_sheets(returned, workbook))
    for sheet in workbook.worksheets:
        title = sheet.title
        name = name_to_say(title, workbook.sheetnames)
        if title in (LIST_SHEET, STAMP_SHEET) or name in unread:
            continue
        if title in cards:
            found += _of_card(returned, sheet, cards[title], known)
        elif title in (FIRST_SHEET, TOLD_SHEET, ANSWERS_SHEET):
            found += _of_cells(
                returned, sheet, known, lambda cell: "" if known is None or _is_known(cell, known) else BESIDE
            )
        else:
            found.append(_seen("sheet-added", Where(file=returned.path.name, sheet=name), "this sheet was added"))
        found += _drawings(returned.path, title, name)
    return tuple(found)


DRAWING = "drawing"
LOST = "a picture, a shape or a text box is here; the marked copy may not have it, so keep the file you sent"
BESIDE = "something was written outside the boxes"
OVER = "something was written over a protected cell"
NAMELESS = "something was chosen here, but the row names nothing"


def _of_card(returned: OfficeReturn, sheet: Any, card: OfficeSheet, known: set[str] | None) -> Iterator[Problem]:
    rows = {row.number: row for row in card.rows}
    headers = {letter: header for header, letter in (card.rows[0].source.letters if card.rows else {}).items()}

    def written(cell: Any) -> str:
        row, header = rows.get(cell.row), headers.get(cell.column_letter, "")
        if row is None or not header:
            return "" if _is_known(cell, known or set()) or (known is None and header) else BESIDE
        return _written(row, header, cell, known)

    yield from _of_cells(returned, sheet, known, written)
    yield from _colours(returned, sheet)
    yield from _hidden(returned, sheet, card, headers)
    yield from _moved(card)


def _written(row: OfficeRow, header: str, cell: Any, known: set[str] | None) -> str:
    use = row.use
    if header in style.HIDDEN or (use is RowUse.FIXED and header in CHECKED_APART):
        return ""
    if header in THEIRS[use]:
        lonely = use is RowUse.NEW and row.is_blank
        return NAMELESS if lonely else ""
    if use is RowUse.LINE and header == "Only when":
        return ""  # compared by itself
    if header == "What" and row.sent and plain(row.text("Name (number)")) == plain(row.sent.shown):
        kinds = {one.kind.value for one in (row.sent.want, row.sent.slot) if one}
        if row.sent.want and plain(str(cell.value)) not in kinds:
            return OVER
    return "" if known is None or _is_known(cell, known) else OVER


def _of_cells(
    returned: OfficeReturn, sheet: Any, known: set[str] | None, written: Callable[[Any], str]
) -> Iterator[Problem]:
    """Comments, and texts of which ``written`` says what is wrong with them."""
    told = 0
    for cell in written_cells(sheet):
        messages = []
        if cell.comment is not None and not is_ours(cell.comment, known):
            messages.append("there is a comment on this cell")
        if is_filled(cell):
            messages.append(written(cell))
        for message in filter(None, messages):
            told += 1
            if told <= MOST_PLACES:
                kind = "comment" if message.startswith("there") else "outside-the-boxes"
                yield _seen(kind, _place(returned, sheet, cell.row, cell.coordinate), message)
    if told > MOST_PLACES:
        where = Where(file=returned.path.name, sheet=sheet.title)
        yield _seen("outside-the-boxes", where, f"and {told - MOST_PLACES} more places of this sheet")


def _colours(returned: OfficeReturn, sheet: Any) -> Iterator[Problem]:
    """Rows with cells that were coloured or struck through, each row once."""
    found: dict[tuple[int, str], list[str]] = {}
    for cell in written_cells(sheet):
        if cell.font.strike or any(part.font and part.font.strike for part in _rich_parts(cell)):
            found.setdefault((cell.row, "struck through"), []).append(cell.coordinate)
        if _is_coloured(cell):
            found.setdefault((cell.row, "coloured"), []).append(cell.coordinate)
    for (row, how), cells in list(found.items())[:MOST_PLACES]:
        others = f", and {len(cells) - 1} more in this row" if len(cells) > 1 else ""
        yield _seen("marked-by-hand", _place(returned, sheet, row, cells[0]), f"this cell was {how}{others}")
    if len(found) > MOST_PLACES:
        where = Where(file=returned.path.name, sheet=sheet.title)
        yield _seen(
            "marked-by-hand", where, f"and {len(found) - MOST_PLACES} more rows were coloured or struck through"
        )


def _is_coloured(cell: Any) -> bool:
    fill, ink = cell.fill, cell.font.color
    filled = fill.patternType not in (None, "none", "gray125")
    if filled and (fill.fgColor.type != "rgb" or str(fill.fgColor.rgb)[-6:].upper() not in OUR_FILLS):
        return True
    return ink is not None and ink.type == "rgb" and str(ink.rgb)[-6:].upper() not in OUR_INKS


def _rich_parts(cell: Any) -> list[Any]:
    return [part for part in cell.value if hasattr(part, "font")] if isinstance(cell.value, list) else []


def _hidden(returned: OfficeReturn, sheet: Any, card: OfficeSheet, headers: dict[str, str]) -> Iterator[Problem]:
    file = returned.path.name
    if sheet.sheet_state != "visible":
        yield _seen("hidden", Where(file=file, sheet=sheet.title), "this sheet was hidden; it was read like the others")
    for row in card.rows:
        if sheet.row_dimensions[row.number].hidden:
            yield _seen("hidden", row.where("Name (number)"), "this row was hidden; it was read like the others")
    for letter, header in headers.items():
        if header not in style.HIDDEN and sheet.column_dimensions[letter].hidden:
            where = Where(
                file=file, sheet=sheet.title, column=header, row=card.header_row, cell=f"{letter}{card.header_row}"
            )
            yield _seen("hidden", where, "this column was hidden; it was read like the others")


def _moved(card: OfficeSheet) -> Iterator[Problem]:
    """The first row that is before one that it stood after; keys count up."""
    last = -1
    for row in card.rows:
        number = KEY.fullmatch(row.key)
        at = int(number[1]) if number else last
        if at < last:
            yield _seen(
                "moved", row.where("Name (number)"), "rows were moved; the order of a card does not follow them"
            )
            return
        last = at


def _missing_sheets(returned: OfficeReturn, workbook: Workbook) -> Iterator[Problem]:
    file = returned.path.name
    there = {sheet.procedure for sheet in returned.sheets} | {sheet.procedure for sheet, _ in returned.unread}
    for procedure in dict.fromkeys(row.procedure for row in returned.stamp.rows):
        if procedure not in there:
            name = procedure or "every procedure"
            message = f"the sheet of {name} is missing; its card stays as it is"
            yield notice("sheet-missing", Where(file=file), message, expected=WHOLE)
    for title in (FIRST_SHEET, LIST_SHEET, STAMP_SHEET):
        if title not in workbook.sheetnames:
            yield notice("sheet-missing", Where(file=file), f"the sheet '{title}' is missing", expected=WHOLE)


def _drawings(path: Path, sheet: str, name: str) -> Iterator[Problem]:
    """Pictures, shapes and text boxes laid over a sheet; ``name`` is what it is called in what is said."""
    try:
        with zipfile.ZipFile(path) as archive:
            parts = [
                part for kind, part in related_parts(archive, sheet_parts(archive)[sheet]).values() if kind == "drawing"
            ]
            anchors = [match for part in parts for match in ANCHOR.findall(archive.read(part))]
    except (*BROKEN, StopIteration):
        return
    for column, row in anchors[:MOST_PLACES]:
        number = int(row) + 1
        where = Where(file=path.name, sheet=name, row=number, cell=f"{letters_of(int(column))}{number}")
        yield _seen(DRAWING, where, LOST)


def _is_known(cell: Any, known: set[str]) -> bool:
    return text_mark(cell.value) in known


def _place(returned: OfficeReturn, sheet: Any, row: int, cell: str) -> Where:
    return Where(file=returned.path.name, sheet=sheet.title, row=row, cell=cell)


def _seen(kind: str, where: Where, message: str) -> Problem:
    return notice(kind, where, message, expected=PLEASE)
