"""The numbers that somebody may have meant who wrote something else into a cell for a number."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date, datetime

from picklist.tables.cells import number_text
from picklist.tables.columns import CellType, Column
from picklist.tables.nearest import Candidates

WORDS = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"]
NUMBER_OF_WORD = {word: number for number, word in enumerate(WORDS)} | {
    "no": 0,
    "nil": 0,
    "none": 0,
    "nothing": 0,
    "a": 1,
    "single": 1,
    "once": 1,
    "pair": 2,
    "twice": 2,
    "dozen": 12,
}
SPELLED = Candidates(tuple(word for word in NUMBER_OF_WORD if len(word) > 2))
PIECES = frozenset({"ea", "each", "x", "pc", "pcs", "piece", "pieces", "unit", "units"})
# Numbers with what people put around and between them: "2-3", "2 or 3", "1/2", "x2", "~2", "(2)", "2?".
SEVERAL = re.compile(r"[x~#(?\s]*[0-9]{1,4}(?:\s*(?:-|\u2013|/|\+|or|to|and)\s*[0-9]{1,4})?[x)?.!\s]*", re.IGNORECASE)
MONTHS = ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"]
DAY_AND_MONTH = re.compile(
    rf"([0-9]{{1,2}})[-. /]({'|'.join(MONTHS)})[a-z]*|({'|'.join(MONTHS)})[a-z]*[-. /]([0-9]{{1,2}})", re.IGNORECASE
)
LAST_COUNT_YEAR = 1902  # a day up to here is a number below 1000 that is only shown as a day
MARCH_1900 = date(1900, 3, 1)  # spreadsheets count a 29 February 1900 that never was


def near_numbers(column: Column, text: str) -> tuple[str, ...]:
    """Numbers that a text may mean and the column allows: of a word, of a range, or with other characters around it."""
    word = text.casefold().strip(" .")
    if word in NUMBER_OF_WORD:
        return allowed(column, (NUMBER_OF_WORD[word],))
    if is_several(text):
        return allowed(column, map(int, re.findall("[0-9]+", text)))
    close = SPELLED.nearest(word, 1) if word.isalpha() else ()
    return allowed(column, (NUMBER_OF_WORD[one] for one in close))


def is_several(text: str) -> bool:
    """Whether a text is a number or two with other characters or a word around them, as ``2-3``, ``2 or 3``, ``x2``."""
    return SEVERAL.fullmatch(text) is not None


def near_fraction(column: Column, number: float) -> tuple[str, ...]:
    """The whole numbers beside a number."""
    return allowed(column, (number // 1, number // 1 + 1))


def near_below(column: Column, number: float) -> tuple[str, ...]:
    """What a number below the least may mean: the same without its minus, or the least."""
    return allowed(column, (-number, column.least or 0) if number < 0 else (column.least or 0,))


def near_with_comma(column: Column, text: str) -> tuple[str, ...]:
    """What a number with a comma may mean: with a decimal comma, or thousands where three digits follow."""
    decimal = float(text.replace(",", "."))
    thousands = [float(text.replace(",", ""))] if len(text.rpartition(",")[2]) == 3 else []
    if column.type is CellType.WHOLE and decimal != int(decimal):
        return allowed(column, thousands) or near_fraction(column, decimal)
    return allowed(column, (*thousands, decimal))


def is_day_and_month(text: str) -> bool:
    """Whether a text looks like what a spreadsheet program makes of ``2-1``: ``2-Jan``."""
    return DAY_AND_MONTH.fullmatch(text) is not None


def near_day(column: Column, day: date | str) -> tuple[str, ...]:
    """The numbers behind a day: the number that is only shown as a day, or what was typed, like 2 and 1."""
    if isinstance(day, str):
        match = DAY_AND_MONTH.fullmatch(day)
        if match is None:
            return ()
        month = MONTHS.index((match[2] or match[3]).casefold()) + 1
        return allowed(column, sorted({int(match[1] or match[4]), month}))
    if day.year <= LAST_COUNT_YEAR:
        return allowed(column, (serial_number(day),))
    return allowed(column, sorted({day.day, day.month}))


def serial_number(day: date) -> int:
    """The number that a spreadsheet keeps for a day."""
    plain_day = day.date() if isinstance(day, datetime) else day
    return (plain_day - date(1899, 12, 31 if plain_day < MARCH_1900 else 30)).days


def allowed(column: Column, numbers: Iterable[float]) -> tuple[str, ...]:
    """Those numbers that the column allows, as text, each once."""
    fits = (
        number
        for number in numbers
        if (column.least is None or number >= column.least) and (column.most is None or number <= column.most)
    )
    return tuple(dict.fromkeys(number_text(float(number)) for number in fits))
