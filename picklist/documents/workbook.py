"""The sheets' tables as one workbook, a sheet for each document: counts, days and moments as such, the rest as text."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from math import ceil

from openpyxl import Workbook
from openpyxl.styles import Alignment, Font
from openpyxl.utils import get_column_letter

from picklist.tables.book import BOLD, HEAD_FILL, WRAPPED, settled_bytes
from picklist.tables.lay_out import CellLook, LaidCell, LaidRow, LaidSheet, Page, lay_out, line_above, row_of

WIDEST, LEAST_WIDE = 60, 24
READABLE = 210  # characters beside each other that print in a size that can be read
MARGINS = {"left": 0.4, "right": 0.4, "top": 0.5, "bottom": 0.7, "header": 0.5, "footer": 0.3}  # inches
TITLE, HEAD = CellLook(font=Font(bold=True, size=14)), CellLook(font=BOLD, fill=HEAD_FILL, alignment=WRAPPED)
LEFT = Alignment(wrap_text=True, vertical="top", horizontal="left")  # a number never runs into the column after it
LOOKS = {
    "text": CellLook(alignment=LEFT),
    "day": CellLook(alignment=LEFT, format="d mmm yyyy"),
    "moment, 24 hours": CellLook(alignment=LEFT, format="ddd d mmm hh:mm"),
    "moment, 12 hours": CellLook(alignment=LEFT, format="ddd d mmm h:mm AM/PM"),
}
LINE_HEIGHT, TITLE_HEIGHT, TALLEST = 15.0, 20.0, 409.0  # points; a spreadsheet knows no taller row
MOST_LINES = TALLEST // LINE_HEIGHT


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
    widths = _widths(table)
    body = (_row(table, row, widths, day) for row in table.rows)
    return LaidSheet(
        name=table.name,
        widths=tuple(widths),
        rows=(_title(table.title, sum(widths)), row_of(table.heads, HEAD), *body),
        freeze="A3",
        filters=f"A2:{get_column_letter(len(table.heads))}{max(len(table.rows) + 2, 2)}",
        page=Page(titles="1:2", margins=MARGINS),
    )


def _title(text: str, width: float) -> LaidRow:
    lines = ceil(len(text) * 1.5 / width)  # its letters are bold, and larger by a quarter than those of the columns
    return line_above(text, TITLE, lines, TITLE_HEIGHT * lines)


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


def _widths(table: SheetTable) -> list[float]:
    """In characters: as wide as the texts, long ones in several lines, and in more where the sheet would print small.

    No row gets taller than a spreadsheet knows. Moments are shown with their day, whatever their text.
    """
    columns = [[head, *(row[place] for row in table.rows)] for place, head in enumerate(table.heads)]
    texts = [max(texts, key=len) for texts in columns]
    moment = len("Wed 25 Nov 12:55 PM")
    whole = [max(len(text), moment * (head in MOMENTS)) + 3 for head, text in zip(table.heads, texts, strict=True)]
    widest = WIDEST
    while widest > LEAST_WIDE and sum(min(width, widest) for width in whole) > READABLE:
        if max(_lines(text, min(width, widest - 1)) for text, width in zip(texts, whole, strict=True)) > MOST_LINES:
            break
        widest -= 1
    return [min(width, widest) for width in whole]


def _lines(text: str, width: float) -> int:
    """How many lines a text takes in a column so wide; words are not torn, so a line holds a little less."""
    return -(-len(text) // max(int(width) - 4, 1)) if len(text) > width else 1


Value = str | int | date | datetime

COUNTS = frozenset({"Open", "Hold", "Total", "Needed in all", "In stock", "Kept back", "Expired", "Revision"})
DAYS = frozenset({"Expiry"})
MOMENTS = frozenset(
    {
        *("Complete by", "Start", "End", "Cart by", "Decide by", "Latest", "Last resort"),
        *("Start at the latest", "First due", "Received", "Ready", "Due", "By"),
    }
)

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
WHOLE_NUMBER = re.compile(r"0|[1-9]\d{0,8}")
DAY = re.compile(rf"(\d{{1,2}}) ({'|'.join(MONTHS)}) (\d{{4}})")
MOMENT = re.compile(rf"(?:({'|'.join(WEEKDAYS)}) (\d{{1,2}}) ({'|'.join(MONTHS)}) )?(\d{{1,2}}):([0-5]\d)(?: ([ap])m)?")


def cell_value(head: str, text: str, day: date) -> Value:
    """The value of a cell under ``head``; ``day`` is the sheets' own, for times that name none.

    Counts are numbers and a dash among them is 0. Moments are wall times. What does not read as
    its column says stays text.
    """
    if head in COUNTS:
        return _count(text)
    if head in DAYS:
        return _day(text)
    if head in MOMENTS:
        return _moment(text, day)
    return text


def _count(text: str) -> Value:
    if text == "–":
        return 0
    return int(text) if WHOLE_NUMBER.fullmatch(text) else text


def _day(text: str) -> Value:
    """``31 Mar 2028`` as a day."""
    found = DAY.fullmatch(text)
    if not found:
        return text
    return date(int(found[3]), MONTHS.index(found[2]) + 1, int(found[1]))


def _moment(text: str, day: date) -> Value:
    """``14:05``, ``2:05 pm`` or ``Wed 25 Nov 23:55`` as a wall time near the sheets' day."""
    found = MOMENT.fullmatch(text)
    if not found:
        return text
    weekday, number, month, hour, minute, half = found.groups()
    own = _nearest(day, weekday, int(number), MONTHS.index(month) + 1) if weekday else day
    if own is None:
        return text
    hours = int(hour) % 12 + (12 if half == "p" else 0) if half else int(hour)
    return datetime.combine(own, datetime.min.time()) + timedelta(hours=hours, minutes=int(minute))


def _nearest(day: date, weekday: str, number: int, month: int) -> date | None:
    """The day of that name closest to another, at most half a year off."""
    near = (day + timedelta(days=off) for distance in range(184) for off in (distance, -distance))
    return next(
        (one for one in near if (one.day, one.month, WEEKDAYS[one.weekday()]) == (number, month, weekday)), None
    )
