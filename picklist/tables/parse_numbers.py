"""Cells that hold numbers."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date, datetime, time, timedelta
from decimal import Decimal

from picklist.tables.cells import Fault, Parsed, Raw, number_text, tidy
from picklist.tables.columns import CellType, Column
from picklist.tables.nearest import Candidates

NUMBER = re.compile(r"[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)")
LONGEST_NUMBER = 18
WITH_COMMA = re.compile(r"[+-]?[0-9]+,[0-9]+")
WITH_UNIT = re.compile(r"([+-]?[0-9]+(?:[.,][0-9]+)?)\s*((?!e[0-9])[A-Za-z%°].*)")
KG_IN_LB = 1 / 0.45359237  # the international pound is 0.45359237 kg exactly


def parse_number_cell(column: Column, raw: Raw) -> Parsed:
    """A whole number (int) or a number (float) within the column's bounds."""
    if isinstance(raw, time | timedelta):
        return None, _time_fault(column, raw)
    if isinstance(raw, date):
        return None, _day_fault(column, raw)
    if isinstance(raw, bool):
        return None, _not_a_number(column)
    if isinstance(raw, int | float):
        return _bounded(column, raw)
    text = tidy(str(raw))
    if len(text) > LONGEST_NUMBER:
        return None, _not_a_number(column)
    if NUMBER.fullmatch(text):
        return _bounded(column, _from_text(text))
    return None, _text_fault(column, text)


def _from_text(text: str) -> float:
    exact = Decimal(text)
    return int(exact) if exact == exact.to_integral_value() else float(exact)


def _bounded(column: Column, number: float) -> Parsed:
    if number != number or number in (float("inf"), float("-inf")):
        return None, _not_a_number(column)
    if column.type is CellType.WHOLE:
        if number != int(number):
            return None, Fault(kind="not whole", expected=_wanted(column), nearest=near_fraction(column, number))
        number = int(number)
    else:
        number = float(number)
    if column.least is not None and number < column.least:
        below_zero = number < 0
        return None, Fault(
            kind="below zero" if below_zero else "too small",
            expected=_wanted(column),
            nearest=near_below(column, number),
        )
    if column.most is not None and number > column.most:
        return None, Fault(kind="too large", expected=_wanted(column))
    return number, None


def _wanted(column: Column, of: str = "") -> str:
    word = ("a whole number" if column.type is CellType.WHOLE else "a number") + of
    if column.least is not None and column.most is not None:
        return f"{word} from {number_text(column.least)} to {number_text(column.most)}"
    if column.least is not None:
        return f"{word}, {number_text(column.least)} or more"
    return word


def _not_a_number(column: Column, nearest: tuple[str, ...] = ()) -> Fault:
    return Fault(kind="not a number", expected=_wanted(column), nearest=nearest)


def _time_fault(column: Column, raw: time | timedelta) -> Fault:
    """Only a column of minutes may mean the minutes of a time; elsewhere 02:03 is not 123 of anything."""
    span = raw if isinstance(raw, timedelta) else timedelta(hours=raw.hour, minutes=raw.minute)
    minutes = round(span.total_seconds() / 60)
    of_minutes = "minutes" in column.name
    return Fault(
        kind="time for number",
        expected=_wanted(column, " of minutes" if of_minutes else ""),
        nearest=allowed(column, (minutes,)) if of_minutes else (),
    )


def _day_fault(column: Column, day: date | str) -> Fault:
    """A day in a column of numbers: a spreadsheet program made it of what was typed, or only shows a number so."""
    return Fault(kind="date for number", expected=_wanted(column), nearest=near_day(column, day))


def _text_fault(column: Column, text: str) -> Fault:
    clock = re.fullmatch(r"([0-9]{1,2}):([0-9]{2})", text)
    if clock:
        return _time_fault(column, timedelta(hours=int(clock[1]), minutes=int(clock[2])))
    if WITH_COMMA.fullmatch(text):
        decimals = "with a point for decimals" if column.type is CellType.NUMBER else "without a comma"
        return Fault(
            kind="not a number", expected=f"{_wanted(column)}, {decimals}", nearest=near_with_comma(column, text)
        )
    if is_day_and_month(text):
        return _day_fault(column, text)
    unit = WITH_UNIT.fullmatch(text)
    if unit and not is_several(text):
        return _unit_fault(column, unit[1].replace(",", "."), unit[2].strip())
    return _not_a_number(column, near_numbers(column, text))


def _unit_fault(column: Column, number: str, unit: str) -> Fault:
    near = number
    factor = _factor(column, unit.lower().rstrip("."))
    if factor is not None:
        value = float(number) * factor
        near = str(round(value)) if column.type is CellType.WHOLE else number_text(round(value, 1))
    return Fault(
        kind="unit in number",
        expected=f"{_wanted(column)}, without a unit",
        nearest=allowed(column, (float(near),)) if factor is not None else (),
    )


def _factor(column: Column, unit: str) -> float | None:
    if column.name.endswith(" lb"):
        return {"lb": 1.0, "lbs": 1.0, "kg": KG_IN_LB}.get(unit)
    if "minutes" in column.name:
        return {"min": 1.0, "mins": 1.0, "minutes": 1.0, "h": 60.0, "hr": 60.0, "hours": 60.0, "hour": 60.0}.get(unit)
    return 1.0 if column.type is CellType.WHOLE and unit in PIECES else None


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
