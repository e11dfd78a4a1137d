"""What a cell holds as it comes from a file, and what can be wrong with it."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from typing import Any, TypeAlias

from picklist.problems import Where
from picklist.tables.sheet_flags import letters_of


@dataclass(frozen=True, slots=True)
class CellFlaw:
    """A cell whose value cannot be had: an error value, a formula never computed, a merged cell."""

    kind: str
    text: str = ""


CUT_OFF = CellFlaw("cut off")  # each cell of a row within which a file ends

Raw: TypeAlias = str | int | float | bool | date | datetime | time | timedelta | CellFlaw | None


@dataclass(slots=True, kw_only=True)
class Grid:
    """Raw cells as lists of lists; ``sheet`` is empty for a CSV file.

    ``hidden_rows`` are row numbers (1-based), ``struck`` the 0-based rows and columns in the file of cells that are
    struck through, and ``months`` those of days that are shown as a month, ``hidden_columns`` column indexes (0-based),
    ``merged`` ranges as (first row, first column, last row, last column), all 0-based. ``dialect``: how a
    CSV file is written, in words. Of a sheet whose columns were put in another order (see ``exports``),
    ``origins`` are the places at which they are in the file, and ``skipped`` the 0-based rows that hold no row
    of the table.
    """

    file: str
    sheet: str
    rows: list[Any]
    hidden: bool = False
    hidden_rows: frozenset[int] = frozenset()
    struck: frozenset[tuple[int, int]] = frozenset()
    months: frozenset[tuple[int, int]] = frozenset()
    hidden_columns: frozenset[int] = frozenset()
    merged: tuple[tuple[int, int, int, int], ...] = ()
    notes: list[str] = field(default_factory=list)
    dialect: tuple[str, ...] = ()
    origins: tuple[int, ...] = ()
    skipped: frozenset[int] = frozenset()

    def origin(self, place: int) -> int:
        """The 0-based place in the file of a column."""
        return self.origins[place] if place < len(self.origins) else place

    def where(self, row: int | None = None, column: str = "", place: int | None = None) -> Where:
        """The place of the sheet, of a 0-based row, or of the cell at a place in it."""
        number = None if row is None else row + 1
        cell = "" if place is None or self.is_csv else f"{letters_of(self.origin(place))}{number}"
        return Where(file=self.file, sheet=self.sheet, row=number, column=column, cell=cell)

    @property
    def is_csv(self) -> bool:
        """Whether it came from a CSV file."""
        return not self.sheet


@dataclass(frozen=True, slots=True)
class FilledRows:
    """The rows of a table that hold anything: their 0-based indexes, and by column their cells from top to bottom."""

    indexes: list[int]
    cells: dict[str, list[Raw]]

    @classmethod
    def of(cls, grid: Grid, header_row: int, places: Mapping[str, int]) -> FilledRows:
        """Those below a header whose columns are at ``places``; a cell beyond the end of its row is None."""
        at = tuple(places.values())
        below = (index for index in range(header_row + 1, len(grid.rows)) if index not in grid.skipped)
        indexes = [index for index in below if holds_any(grid.rows[index], at)]
        rows = [grid.rows[index] for index in indexes]
        narrowest = min(map(len, rows), default=0)
        cells = {
            name: [row[place] for row in rows]
            if place < narrowest
            else [row[place] if place < len(row) else None for row in rows]
            for name, place in places.items()
        }
        return cls(indexes, cells)

    def blank(self, column: str) -> list[int]:
        """Which of the rows leave a column empty, counted from 0; all where the column is not there."""
        cells = self.cells.get(column)
        if cells is None:
            return list(range(len(self.indexes)))
        empty = {raw for raw in set(cells) if is_empty(raw)}
        return [n for n, raw in enumerate(cells) if raw in empty] if empty else []


# What is wrong with a cell, by the kind of its fault and without what it holds: a cell that was refused could
# hold anything.
FAULTS = {
    "ambiguous date": "this date can be read in two ways",
    "below zero": "this is below zero",
    "date for number": "this is a date, not a number; spreadsheets turn entries such as 2-1 or 1/2 into dates",
    "date out of range": "this day is not in this century",
    "date with time": "this is a day and a time",
    "left out": "one of the words in this list is missing",
    "listed twice": "something is listed twice here",
    "lost zeros": "this was typed as a number, while others here are texts with leading zeros",
    "name and number differ": "the number here belongs to another name",
    "near word": "a word here is close to a known one and is not spelled like it",
    "no day": "the day is missing",
    "no such day": "this day is not in the calendar",
    "no time": "the time is missing",
    "not a choice": "this is not one of the words that are allowed here",
    "not a condition": "this is not a condition",
    "not a date": "this is not a date",
    "not a number": "this is not a number",
    "not a stamp": "this is not a day and time",
    "not a time": "this is not a time of day",
    "not a weekday": "this is not a weekday",
    "not whole": "this is not a whole number",
    "not yes or no": "this is neither yes nor no",
    "past midnight": "this time is past midnight",
    "several things": "several things in the catalogue have this name",
    "shortened number": "this is a long number that a spreadsheet has shortened",
    "text turned into date": "a spreadsheet has turned this text into a date, as it does with 1/2",
    "time for number": "this is a time, not a number",
    "too large": "this number is too large",
    "too small": "this number is too small",
    "turned into date": "a spreadsheet has turned this id into a date or time",
    "two date orders": "the dates in this column are typed in two orders",
    "unit in number": "this number has a unit in it",
    "unknown thing": "nothing in the catalogue has this name",
}
OTHER = "what is written here cannot be read"
PRIVATE = "private text"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """What is wrong with one cell, or with a file as a whole; a kind of cells is said in its own words."""

    kind: str
    message: str = ""
    expected: str = ""
    nearest: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not self.message:
            object.__setattr__(self, "message", FAULTS.get(self.kind.replace("-", " "), OTHER))


Parsed: TypeAlias = tuple[Any, Fault | None]

SPACES = re.compile(r"[\s\u00a0\u2007\u202f]+")
# Of the Unicode category Cf (format), of the controls, and what only chooses a glyph: marks of direction among them.
UNSEEN = re.compile(
    r"[\u00ad\u034f\u061c\u115f\u1160\u17b4\u17b5\u180b-\u180f\u200b-\u200f\u202a-\u202e\u2060-\u206f\u3164"
    r"\ufe00-\ufe0f\ufeff\uffa0\ufff9-\ufffb\x00-\x08\x0b\x0c\x0e-\x1f\x7f]"
)


def tidy(text: str) -> str:
    """Text without unseen characters and outer spaces, inner runs of spaces as one."""
    if text.isascii() and text.isprintable() and "  " not in text:
        return text.strip()
    return SPACES.sub(" ", UNSEEN.sub("", text)).strip()


def is_empty(raw: Raw) -> bool:
    """Whether a cell holds nothing that a person could see."""
    if isinstance(raw, str):
        return not raw or not (raw[0].isalnum() or tidy(raw))
    return raw is None


def holds_any(raws: Sequence[Raw], places: Iterable[int]) -> bool:
    """Whether a row of cells holds anything at some places."""
    width = len(raws)
    for place in places:  # noqa: SIM110 - asked of every row, and any() takes twice as long
        if place < width and not is_empty(raws[place]):
            return True
    return False


def shown(raw: Raw) -> str:
    """A cell's content as text for a person, in ISO form, at most 60 characters."""
    if raw is None:
        return ""
    if isinstance(raw, CellFlaw):
        return raw.text
    if isinstance(raw, bool):
        return "TRUE" if raw else "FALSE"
    if isinstance(raw, float):
        return number_text(raw)
    if isinstance(raw, datetime):
        return raw.isoformat(sep=" ", timespec="minutes")
    if isinstance(raw, timedelta):
        return hours_text(raw)
    text = tidy(str(raw))
    return text if len(text) <= 60 else text[:57] + "..."


def plain_text(value: object) -> str:
    """A value as a user would type it in a CSV file: ISO dates, 24 hour times, yes and no, lists with ;."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return f"{value:%Y-%m-%d %H:%M}"
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, time):
        return f"{value:%H:%M}"
    if isinstance(value, tuple | list):
        return "; ".join(plain_text(one) for one in value)
    return str(value)


def number_text(number: float) -> str:
    """A number without a needless ``.0``."""
    if math.isfinite(number) and number == int(number) and abs(number) < 1e15:
        return str(int(number))
    return repr(number)


def hours_text(span: timedelta) -> str:
    """A length of time as hours and minutes, ``25:30``."""
    minutes = round(span.total_seconds() / 60)
    return f"{'-' if minutes < 0 else ''}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"
