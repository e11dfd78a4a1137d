"""Cells that hold numbers."""

from __future__ import annotations

import re
from datetime import date, time, timedelta
from decimal import Decimal

from picklist.tables.cells import Fault, Parsed, Raw, number_text, tidy
from picklist.tables.columns import CellType, Column
from picklist.tables.near_numbers import (
    PIECES,
    allowed,
    is_day_and_month,
    is_several,
    near_below,
    near_day,
    near_fraction,
    near_numbers,
    near_with_comma,
)

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
