"""The sheets' tables as one workbook, a sheet for each document."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from openpyxl import Workbook
from openpyxl.styles import Alignment, Font
from openpyxl.utils import get_column_letter

from picklist.documents.cell_values import MOMENTS, Value, cell_value
from picklist.tables.book import BOLD, HEAD_FILL, WRAPPED, settled_bytes
from picklist.tables.lay_out import CellLook, LaidCell, LaidRow, LaidSheet, Page, lay_out, row_of

WIDEST = 60
MARGINS = {"left": 0.4, "right": 0.4, "top": 0.5, "bottom": 0.7, "header": 0.5, "footer": 0.3}  # inches
TITLE, HEAD = CellLook(font=Font(bold=True, size=14)), CellLook(font=BOLD, fill=HEAD_FILL, alignment=WRAPPED)
LEFT = Alignment(wrap_text=True, vertical="top", horizontal="left")  # a day never runs into the column after it
LOOKS = {
    "text": CellLook(alignment=WRAPPED),
    "day": CellLook(alignment=LEFT, format="d mmm yyyy"),
    "moment, 24 hours": CellLook(alignment=LEFT, format="ddd d mmm hh:mm"),
    "moment, 12 hours": CellLook(alignment=LEFT, format="ddd d mmm h:mm AM/PM"),
}
LINE_HEIGHT, TALLEST = 15.0, 409.0  # points; a spreadsheet knows no taller row


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetTable:
    """One sheet: its name, what is over it, its heads, and rows of finished strings.

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
    book = Workbook(write_only=True)
    for table in tables:
        lay_out(book, _declared(table, day))
    return settled_bytes(book, made)


def _declared(table: SheetTable, day: date) -> LaidSheet:
    widths = [_width(head, [row[column] for row in table.rows]) for column, head in enumerate(table.heads)]
    body = (_row(table, row, widths, day) for row in table.rows)
    return LaidSheet(
        name=table.name,
        widths=tuple(widths),
        rows=(row_of([table.title], TITLE), row_of(table.heads, HEAD), *body),
        freeze="A3",
        filters=f"A2:{get_column_letter(len(table.heads))}{max(len(table.rows) + 2, 2)}",
        page=Page(titles="1:2", margins=MARGINS),
    )


def _row(table: SheetTable, row: tuple[str, ...], widths: Sequence[float], day: date) -> LaidRow:
    lines = max((_lines(text, width) for text, width in zip(row, widths, strict=True)), default=1)
    values = [(cell_value(head, text, day), text) for head, text in zip(table.heads, row, strict=True)]
    return LaidRow(
        cells=tuple(LaidCell(value=value, look=LOOKS[_sort(value, text)]) for value, text in values),
        height=min(lines * LINE_HEIGHT, TALLEST) if lines > 1 else None,
    )


def _sort(value: Value, text: str) -> str:
    if isinstance(value, datetime):
        return "moment, 12 hours" if text.endswith("m") else "moment, 24 hours"
    return "day" if isinstance(value, date) else "text"


def _width(head: str, texts: Sequence[str]) -> float:
    """In characters; moments are shown with their day, whatever their text."""
    longest = max((len(text) for text in texts), default=0)
    if head in MOMENTS:
        longest = max(longest, len("Wed 25 Nov 12:55 PM"))
    return min(max(len(head), longest) + 3, WIDEST)


def _lines(text: str, width: float) -> int:
    """How many lines a text takes in a column so wide; words are not torn, so a line holds a little less."""
    return -(-len(text) // max(int(width) - 4, 1)) if len(text) > width else 1
