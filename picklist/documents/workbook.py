"""The sheets' tables as one workbook, a sheet for each document."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from io import BytesIO
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from openpyxl import Workbook
from openpyxl.cell.cell import Cell
from openpyxl.styles import Alignment, Font, NamedStyle, PatternFill
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.page import PageMargins
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

from picklist.cautions import AID
from picklist.documents.cell_values import MOMENTS, Value, cell_value
from picklist.tables.text_cells import put_value

WIDEST = 60
LINES = {  # one look for each sort of value
    "text": "picklist line",
    "day": "picklist day",
    "moment, 24 hours": "picklist moment",
    "moment, 12 hours": "picklist moment of 12 hours",
}
FORMATS = {"day": "d mmm yyyy", "moment, 24 hours": "ddd d mmm hh:mm", "moment, 12 hours": "ddd d mmm h:mm AM/PM"}
LINE_HEIGHT, TALLEST = 15.0, 409.0  # points; a spreadsheet knows no taller row
WRAPPED = Alignment(wrap_text=True, vertical="top")
LEFT = Alignment(wrap_text=True, vertical="top", horizontal="left")  # a day never runs into the column after it


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One sheet: its name, what stands over it, its heads, and rows of finished strings.

    The heads tell which columns hold counts, days and moments.
    """

    name: str
    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def workbook_bytes(tables: Iterable[Table], made: datetime, day: date) -> bytes:
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
    stamp = made.replace(tzinfo=None)
    book.properties.created = book.properties.modified = stamp
    book.properties.creator = "picklist"
    buffer = BytesIO()
    book.save(buffer)
    return _with_fixed_times(buffer.getvalue(), made)


def _fill(sheet: Worksheet, table: Table, day: date) -> None:
    _write(sheet, 1, 1, table.title).font = Font(bold=True, size=14)
    for column, head in enumerate(table.heads, start=1):
        cell = _write(sheet, 2, column, head)
        cell.font = Font(bold=True)
        cell.fill = PatternFill("solid", fgColor="DDDDDD")
        cell.alignment = WRAPPED
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


def _lay_out(sheet: Worksheet, table: Table) -> None:
    sheet.freeze_panes = "A3"
    last = get_column_letter(len(table.heads))
    sheet.auto_filter.ref = f"A2:{last}{max(len(table.rows) + 2, 2)}"
    sheet.print_title_rows = "1:2"
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    sheet.page_margins = PageMargins(left=0.4, right=0.4, top=0.5, bottom=0.7, footer=0.3)
    if sheet.oddFooter is not None:  # an empty one counts as false
        sheet.oddFooter.center.text = f"{AID}\nPage &P of &N"
    widths = [_width(head, [row[column] for row in table.rows]) for column, head in enumerate(table.heads)]
    for column, width in enumerate(widths, start=1):
        sheet.column_dimensions[get_column_letter(column)].width = width
    for number, row in enumerate(table.rows, start=3):
        lines = max((_lines(text, width) for text, width in zip(row, widths, strict=True)), default=1)
        if lines > 1:
            sheet.row_dimensions[number].height = min(lines * LINE_HEIGHT, TALLEST)


def _width(head: str, texts: Sequence[str]) -> float:
    """In signs; moments are shown with their day, whatever their text."""
    longest = max((len(text) for text in texts), default=0)
    if head in MOMENTS:
        longest = max(longest, len("Wed 25 Nov 12:55 PM"))
    return min(max(len(head), longest) + 3, WIDEST)


def _lines(text: str, width: float) -> int:
    """How many lines a text takes in a column so wide; words are not torn, so a line holds a little less."""
    return -(-len(text) // max(int(width) - 4, 1)) if len(text) > width else 1


def _with_fixed_times(book: bytes, made: datetime) -> bytes:
    """Pack again with the plan's time on every part, and in the stated order, so that bytes repeat."""
    when: Sequence[int] = made.timetuple()[:6]
    buffer = BytesIO()
    stamp = made.strftime("%Y-%m-%dT%H:%M:%SZ").encode()
    with ZipFile(BytesIO(book)) as old, ZipFile(buffer, "w", ZIP_DEFLATED) as new:
        for name in sorted(old.namelist(), key=lambda one: (one != "[Content_Types].xml", one)):
            info = ZipInfo(name, (when[0], when[1], when[2], when[3], when[4], when[5]))
            info.compress_type = ZIP_DEFLATED
            content = old.read(name)
            if name == "docProps/core.xml":
                content = re.sub(rb"(<dcterms:modified[^>]*>)[^<]*", rb"\g<1>" + stamp, content)
            new.writestr(info, content)
    return buffer.getvalue()
