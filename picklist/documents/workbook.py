"""The sheets' tables as one workbook, a sheet for each document."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from openpyxl import Workbook
from openpyxl.cell.cell import Cell
from openpyxl.styles import Alignment, Font, NamedStyle
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from picklist.documents.cell_values import MOMENTS, Value, cell_value
from picklist.tables.book import WRAPPED, put_caution, put_value, set_up_page, set_widths, settled_bytes, style_head

WIDEST = 60
MARGINS = {"left": 0.4, "right": 0.4, "top": 0.5, "bottom": 0.7, "header": 0.5, "footer": 0.3}  # inches
LINES = {  # one look for each sort of value
    "text": "picklist line",
    "day": "picklist day",
    "moment, 24 hours": "picklist moment",
    "moment, 12 hours": "picklist moment of 12 hours",
}
FORMATS = {"day": "d mmm yyyy", "moment, 24 hours": "ddd d mmm hh:mm", "moment, 12 hours": "ddd d mmm h:mm AM/PM"}
LINE_HEIGHT, TALLEST = 15.0, 409.0  # points; a spreadsheet knows no taller row
LEFT = Alignment(wrap_text=True, vertical="top", horizontal="left")  # a day never runs into the column after it


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetTable:
    """One sheet: its name, what stands over it, its heads, and rows of finished strings.

    The heads tell which columns hold counts, days and moments.
    """

    name: str
    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def workbook_bytes(tables: Iterable[SheetTable], made: datetime, day: date) -> bytes:
    """The workbook as a file; the same tables give the same bytes. ``day`` is that of times that name none.

    Every text is written as text, so that none can run as a formula, whatever it begins with.
    """
    book = Workbook()
    for sort, name in LINES.items():
        look = {"alignment": LEFT, "number_format": FORMATS[sort]} if sort in FORMATS else {"alignment": WRAPPED}
        book.add_named_style(NamedStyle(name, **look))
    for first in book.worksheets:
        book.remove(first)
    for table in tables:
        _fill(book.create_sheet(table.name), table, day)
    return settled_bytes(book, made)


def _fill(sheet: Worksheet, table: SheetTable, day: date) -> None:
    _write(sheet, 1, 1, table.title).font = Font(bold=True, size=14)
    for column, head in enumerate(table.heads, start=1):
        style_head(_write(sheet, 2, column, head))
    for number, row in enumerate(table.rows, start=3):
        for column, (head, text) in enumerate(zip(table.heads, row, strict=True), start=1):
            value = cell_value(head, text, day)
            body = sheet.cell(number, column)
            body.style = LINES[_sort(value, text)]  # a named look: styles cell by cell take longer than all the rest
            put_value(body, value)
    _lay_out(sheet, table)


def _sort(value: Value, text: str) -> str:
    if isinstance(value, datetime):
        return "moment, 12 hours" if text.endswith("m") else "moment, 24 hours"
    return "day" if isinstance(value, date) else "text"


def _write(sheet: Worksheet, row: int, column: int, text: str) -> Cell:
    cell = sheet.cell(row, column)
    assert isinstance(cell, Cell)  # nothing is merged
    put_value(cell, text)
    return cell


def _lay_out(sheet: Worksheet, table: SheetTable) -> None:
    sheet.freeze_panes = "A3"
    last = get_column_letter(len(table.heads))
    sheet.auto_filter.ref = f"A2:{last}{max(len(table.rows) + 2, 2)}"
    set_up_page(sheet, titles="1:2", margins=MARGINS)
    put_caution(sheet)
    widths = [_width(head, [row[column] for row in table.rows]) for column, head in enumerate(table.heads)]
    set_widths(sheet, widths)
    for number, row in enumerate(table.rows, start=3):
        lines = max((_lines(text, width) for text, width in zip(row, widths, strict=True)), default=1)
        if lines > 1:
            sheet.row_dimensions[number].height = min(lines * LINE_HEIGHT, TALLEST)


def _width(head: str, texts: Sequence[str]) -> float:
    """In characters; moments are shown with their day, whatever their text."""
    longest = max((len(text) for text in texts), default=0)
    if head in MOMENTS:
        longest = max(longest, len("Wed 25 Nov 12:55 PM"))
    return min(max(len(head), longest) + 3, WIDEST)


def _lines(text: str, width: float) -> int:
    """How many lines a text takes in a column so wide; words are not torn, so a line holds a little less."""
    return -(-len(text) // max(int(width) - 4, 1)) if len(text) > width else 1
