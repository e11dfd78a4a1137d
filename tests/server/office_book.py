"""An office's workbook, filled in."""

from __future__ import annotations

import io
import re

import openpyxl
from openpyxl.worksheet.worksheet import Worksheet

from tests.upkeep.office import ask_row, row_of, write


def first_card(book: openpyxl.Workbook) -> tuple[Worksheet, str]:
    """The first card that has an item, and that item's number."""
    for sheet in book.worksheets:
        for (name,) in sheet.iter_rows(min_row=6, min_col=2, max_col=2, values_only=True):
            found = re.search(r"\((\d{6})\)", str(name))
            if found:
                return sheet, found[1]
    raise AssertionError("the workbook has no item")


def filled(content: bytes, **cells: object) -> bytes:
    """The workbook with the boxes of its first item filled in."""
    book = openpyxl.load_workbook(io.BytesIO(content))
    sheet, item = first_card(book)
    write(sheet, row_of(sheet, item), **cells)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def asking(content: bytes) -> bytes:
    """The workbook with a request on its first card."""
    book = openpyxl.load_workbook(io.BytesIO(content))
    sheet, _ = first_card(book)
    write(sheet, ask_row(sheet), name="Soft retractor")
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()
