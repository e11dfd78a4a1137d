"""What every workbook that the program writes has in common: texts that stay text, and how it is saved."""

from __future__ import annotations

import io
import zipfile
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from openpyxl import Workbook
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
from openpyxl.styles import Alignment, Font, PatternFill
from openpyxl.writer.excel import ExcelWriter

from picklist.tables.files import write_file

LONGEST_CELL = 32_767  # characters that a cell can hold
FORMULA_MARKS = ("=", "+", "-", "@", "\t", "\r")
LONG_AGO = datetime(1980, 1, 1, tzinfo=UTC)  # the earliest that a ZIP entry can carry
BOLD = Font(bold=True)
HEAD_FILL = PatternFill("solid", fgColor="DDDDDD")
WRAPPED = Alignment(wrap_text=True, vertical="top")


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
