"""The sheets' tables as one workbook, a sheet for each document."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from io import BytesIO
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from openpyxl import Workbook
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE, Cell
from openpyxl.styles import Alignment, Font, NamedStyle, PatternFill
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.worksheet import Worksheet

Value = str | int
LONGEST = 32_767  # characters that a cell can hold
WIDEST = 60
LINE = "picklist line"
FORMULA_MARKS = "=+-@\t\r"
WRAPPED = Alignment(wrap_text=True, vertical="top")
WHOLE_NUMBER = re.compile(r"0|[1-9]\d{0,8}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One sheet: its name, what stands over it, its heads, and rows; ``numeric`` are heads of counts."""

    name: str
    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numeric: frozenset[str] = frozenset()


def workbook_bytes(tables: Iterable[Table], made: datetime) -> bytes:
    """The workbook as a file; the same tables give the same bytes.

    Every text is written as text, so that none can run as a formula, whatever it begins with.
    """
    book = Workbook()
    book.add_named_style(NamedStyle(LINE, alignment=WRAPPED))
    for first in book.worksheets:
        book.remove(first)
    for table in tables:
        _fill(book.create_sheet(table.name), table)
    stamp = made.replace(tzinfo=None)
    book.properties.created = book.properties.modified = stamp
    book.properties.creator = "picklist"
    buffer = BytesIO()
    book.save(buffer)
    return _with_fixed_times(buffer.getvalue(), made)


def _fill(sheet: Worksheet, table: Table) -> None:
    _write(sheet, 1, 1, table.title).font = Font(bold=True, size=14)
    for column, head in enumerate(table.heads, start=1):
        cell = _write(sheet, 2, column, head)
        cell.font = Font(bold=True)
        cell.fill = PatternFill("solid", fgColor="DDDDDD")
        cell.alignment = WRAPPED
    for number, row in enumerate(table.rows, start=3):
        for column, (head, text) in enumerate(zip(table.heads, row, strict=True), start=1):
            cell = _write(sheet, number, column, _value(head, text, table.numeric))
            cell.style = LINE  # one look for all: alignment cell by cell takes longer than all the rest
            if text and text[0] in FORMULA_MARKS:
                cell.quotePrefix = True
    _lay_out(sheet, table)


def _value(head: str, text: str, numeric: frozenset[str]) -> Value:
    """A count as a number; a dash for none as 0; all else as it stands."""
    if head not in numeric:
        return text
    if text == "–":
        return 0
    return int(text) if WHOLE_NUMBER.fullmatch(text) else text


def _write(sheet: Worksheet, row: int, column: int, value: Value) -> Cell:
    cell = sheet.cell(row, column)
    assert isinstance(cell, Cell)  # nothing is merged
    if isinstance(value, int):
        cell.value = value
        return cell
    cell.value = ILLEGAL_CHARACTERS_RE.sub("\N{REPLACEMENT CHARACTER}", value)[:LONGEST]
    cell.data_type = "s"
    return cell


def _lay_out(sheet: Worksheet, table: Table) -> None:
    sheet.freeze_panes = "A3"
    last = get_column_letter(len(table.heads))
    sheet.auto_filter.ref = f"A2:{last}{max(len(table.rows) + 2, 2)}"
    sheet.print_title_rows = "1:2"
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    for column, head in enumerate(table.heads):
        longest = max((len(row[column]) for row in table.rows), default=0)
        sheet.column_dimensions[get_column_letter(column + 1)].width = min(max(len(head), longest) + 3, WIDEST)


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
