"""Text that stays text: a spreadsheet program must never take a name, a note or an id for a formula.

In a workbook a cell says itself that it holds text. A CSV file cannot say so, so a text that a
spreadsheet program would run gets an apostrophe in front, and the reader takes it off again.
"""

from __future__ import annotations

import re
from typing import Any

from openpyxl.cell import WriteOnlyCell
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

LONGEST_CELL = 32_767  # characters that a cell can hold
FORMULA_MARKS = ("=", "+", "-", "@", "\t", "\r")
LIVE_IN_CSV = re.compile(r"'*[=+\-@\t\r]")
GUARDED_IN_CSV = re.compile(r"'+[=+\-@\t\r]")
PLAIN_NUMBER = re.compile(r"[+-]?[0-9]+([.,:][0-9]+)*")


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


def value_cell(sheet: Any, value: Any) -> Any:
    """A new cell of a write-only sheet with a value, its text as text."""
    cell = WriteOnlyCell(sheet)
    put_value(cell, value)
    return cell


def csv_text(text: str) -> str:
    """A text for a CSV file that no spreadsheet program takes for a formula; numbers stay as they are."""
    if not LIVE_IN_CSV.match(text) or PLAIN_NUMBER.fullmatch(text):
        return text
    return f"'{text}"


def text_from_csv(text: str) -> str:
    """The text that ``csv_text`` was given."""
    return text[1:] if GUARDED_IN_CSV.match(text) else text
