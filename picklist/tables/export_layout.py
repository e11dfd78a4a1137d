"""Where the header of a hospital's own export stands: after title lines, and in one row or several."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, time, timedelta

from picklist.settings import DateOrder
from picklist.tables.cells import Grid, Raw, is_empty, tidy
from picklist.tables.columns import CellType, Column
from picklist.tables.export_cells import day_of
from picklist.tables.headers import SEARCHED_ROWS
from picklist.tables.parse_dates import parse_date_cell
from picklist.tables.parse_numbers import NUMBER
from picklist.tables.parse_times import CLOCK

DEEPEST = 3  # header rows that belong together
FEWEST = 3  # headers that make a row look like one
JOINT = " / "
_A_DAY = Column("day", CellType.DATE, "")


@dataclass(frozen=True, slots=True, kw_only=True)
class ExportHeader:
    """The 0-based first and last row of a header, and what it calls each column by its place."""

    top: int
    bottom: int
    names: dict[int, str]


def best_header(grid: Grid, worth: Callable[[ExportHeader], int]) -> ExportHeader | None:
    """The header rows that are worth most, the highest and fewest of equal ones; None when none is worth anything."""
    best, most = None, 0
    for bottom in range(min(SEARCHED_ROWS, len(grid.rows))):
        for depth in range(1, min(DEEPEST, bottom + 1) + 1):
            header = header_of(grid, bottom - depth + 1, bottom)
            found = worth(header)
            if found > most:
                best, most = header, found
    return best


def header_of(grid: Grid, top: int, bottom: int) -> ExportHeader:
    """What these rows call each column: the words above one another, from top to bottom.

    A word that stands once over several columns is that of each of them, up to the next one.
    """
    width = max((len(grid.rows[row]) for row in range(top, bottom + 1)), default=0)
    layers = [_spread(grid.rows[row], width, wide=row < bottom) for row in range(top, bottom + 1)]
    names = {place: JOINT.join(layer[place] for layer in layers if layer[place]) for place in range(width)}
    return ExportHeader(top=top, bottom=bottom, names={place: name for place, name in names.items() if name})


def _spread(row: Sequence[Raw], width: int, *, wide: bool) -> list[str]:
    words = [tidy(raw) if isinstance(raw, str) else "" for raw in row] + [""] * (width - len(row))
    if not wide:
        return words
    said = ""
    for place, word in enumerate(words):
        said = words[place] = word or said
    return words


def guess_header(grid: Grid) -> ExportHeader | None:
    """The header of a table of which nothing is known: the row of most words above a row that holds a number or day.

    Rows of words right above it that have as many columns or more than one word belong to it.
    """
    best, most = None, FEWEST - 1
    for index in range(min(SEARCHED_ROWS, len(grid.rows) - 1)):
        filled = _filled(grid.rows[index])
        below = next((row for row in grid.rows[index + 1 :] if len(_filled(row)) > 1), ())
        if len(filled) > most and all(_is_word(raw) for raw in filled) and any(not _is_word(raw) for raw in below):
            best, most = index, len(filled)
    if best is None:
        return None
    top = best
    while top > 0 and best - top < DEEPEST - 1 and _is_upper_header(grid.rows[top - 1]):
        top -= 1
    return header_of(grid, top, best)


def _is_upper_header(row: Sequence[Raw]) -> bool:
    filled = _filled(row)
    return len(filled) > 1 and all(_is_word(raw) for raw in filled)


def _filled(row: Sequence[Raw]) -> list[Raw]:
    return [raw for raw in row if not is_empty(raw)]


def _is_word(raw: Raw) -> bool:
    """Whether a cell holds words, and no number, day or time."""
    if not isinstance(raw, str):
        return False
    text = tidy(raw)
    return not (NUMBER.fullmatch(text.replace(",", ".")) or CLOCK.match(text) or is_day(day_of(text)))


def is_day(raw: Raw) -> bool:
    """Whether a cell holds a day, in whatever order it is typed."""
    if isinstance(raw, date):
        return True
    if not isinstance(raw, str) or isinstance(raw, time | timedelta):
        return False
    return any(parse_date_cell(_A_DAY, raw, order)[1] is None for order in (DateOrder.DAY_FIRST, DateOrder.MONTH_FIRST))
