"""What every workbook that the program writes has in common: texts that stay text, its page, and how it is saved."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from openpyxl import Workbook
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
from openpyxl.styles import Alignment, Font, PatternFill
from openpyxl.utils import get_column_letter
from openpyxl.writer.excel import ExcelWriter

from picklist.settings import Paper
from picklist.tables.files import write_file
from picklist.wording.lists import AID

LONGEST_CELL = 32_767  # characters that a cell can hold
FORMULA_MARKS = ("=", "+", "-", "@", "\t", "\r")
LONG_AGO = datetime(1980, 1, 1, tzinfo=UTC)  # the earliest that a ZIP entry can carry
BOLD = Font(bold=True)
HEAD_FILL = PatternFill("solid", fgColor="DDDDDD")
WRAPPED = Alignment(wrap_text=True, vertical="top")
SIZES = {Paper.A4: "9", Paper.LETTER: "1"}  # ECMA-376 part 1, 18.3.1.63


def put_value(cell: Any, value: Any) -> None:
    """Put a value into a cell of a workbook; a text as text, whatever it begins with, nothing for an empty one.

    Characters that a workbook cannot hold show as a replacement character.
    """
    if not isinstance(value, str):
        cell.value = value
        return
    cell.value = ILLEGAL_CHARACTERS_RE.sub("\N{REPLACEMENT CHARACTER}", value)[:LONGEST_CELL] or None
    if cell.value is None:
        return
    cell.data_type = "s"
    if value.startswith(FORMULA_MARKS):
        cell.quotePrefix = True  # a person who opens the cell and leaves it again does not start the formula


def set_widths(sheet: Any, widths: Iterable[float]) -> None:
    """Set the widths of a sheet's columns, in characters, from its first one on."""
    for number, width in enumerate(widths, start=1):
        sheet.column_dimensions[get_column_letter(number)].width = width


def set_up_page(
    sheet: Any,
    *,
    titles: str = "",
    paper: Paper | None = None,
    portrait: bool = False,
    margins: Mapping[str, float] = {},
) -> None:
    """Print a sheet as wide as the page; ``titles`` are the rows on top of each page, margins in inches."""
    sheet.page_setup.orientation = "portrait" if portrait else "landscape"
    if paper:
        sheet.page_setup.paperSize = SIZES[paper]
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    if titles:
        sheet.print_title_rows = titles
    for side, inches in margins.items():
        setattr(sheet.page_margins, side, inches)


def put_caution(sheet: Any) -> None:
    """Print at the foot of each page what every paper says, and the page's number."""
    foot = sheet.HeaderFooter.oddFooter.center
    foot.text, foot.size = f"{AID} · Page &P of &N", 8  # one line: not every program reads an encoded line break


def lock_sheet(sheet: Any, *allowed: str) -> None:
    """Lock a sheet against slips, without a password; columns may be made wider, and what else is allowed."""
    sheet.protection.sheet = True
    for one in ("formatColumns", *allowed):
        setattr(sheet.protection, one, False)


def save_settled(workbook: Workbook, path: Path) -> None:
    """Save a workbook completely or not at all; the same content gives the same bytes. Raises OSError, BusyError."""
    write_file(path, settled_bytes(workbook))


def settled_bytes(workbook: Workbook, made: datetime = LONG_AGO) -> bytes:
    """A workbook as a file whose bytes depend on its content and on when it was ``made``, not on when it is saved."""
    raw, settled = io.BytesIO(), io.BytesIO()
    workbook.properties.creator = "picklist"
    workbook.properties.created = made.replace(tzinfo=None)
    with zipfile.ZipFile(raw, "w") as loose:  # packed below, once
        ExcelWriter(workbook, loose).write_data()
    year, month, day, hour, minute, second, *_ = made.timetuple()
    with zipfile.ZipFile(raw) as source, zipfile.ZipFile(settled, "w", zipfile.ZIP_DEFLATED) as target:
        for name in source.namelist():
            entry = zipfile.ZipInfo(name, (year, month, day, hour, minute, second))
            entry.compress_type = zipfile.ZIP_DEFLATED
            target.writestr(entry, _without_saving_time(name, source.read(name)))
    return settled.getvalue()


def _without_saving_time(name: str, content: bytes) -> bytes:
    if name != "docProps/core.xml":
        return content
    head, tag, rest = content.partition(b"<dcterms:modified")
    return head + rest.partition(b"</dcterms:modified>")[2] if tag else content
