"""Cells that hold days and expiry dates, in the many ways in which they are typed."""

from __future__ import annotations

import calendar
import re
from collections.abc import Iterable
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from functools import cache
from typing import Any

from picklist.settings import DateOrder
from picklist.tables.cells import Fault, Parsed, Raw, shown, tidy
from picklist.tables.columns import Column
from picklist.tables.nearest import Candidates, plain

EPOCH = datetime(1899, 12, 30)  # noqa: DTZ001 (a wall day: where spreadsheets count their days from)
OPEN_END = date(2900, 1, 1)  # a day from then on (9999-12-31, say) is not meant as one: it stands for no end
LAST_SERIAL = 2958465  # 9999-12-31, the last day that a spreadsheet knows
SERIALS = (36526, 73415)  # 2000-01-01 to 2100-12-31
DATE_WANTED = "a day as 2026-11-26"
NOT_THIS_CENTURY = Fault(kind="date out of range", expected=DATE_WANTED)
EXPIRY_WANTED = "a day as 2027-06-15 or a month as 2027-06"
ISO = re.compile(r"([0-9]{4})[-/.]([0-9]{1,2})[-/.]([0-9]{1,2})")
PACKED = re.compile(r"(20[0-9]{2})([0-9]{2})([0-9]{2})")
SLASHED = re.compile(r"([0-9]{1,2})([-/.])([0-9]{1,2})\2([0-9]{4}|[0-9]{2})")
DAY_MONTH_NAME = re.compile(
    r"(?:[a-z]{3,9}\.?,?\s+)?([0-9]{1,2})[\s.-]+([a-z]{3,9})\.?,?[\s-]+([0-9]{4}|[0-9]{2})", re.IGNORECASE
)
MONTH_NAME_DAY = re.compile(r"(?:[a-z]{3,9}\.?,?\s+)?([a-z]{3,9})\.?\s+([0-9]{1,2}),?\s+([0-9]{4})", re.IGNORECASE)
YEAR_MONTH = re.compile(r"([0-9]{4})[-/.]([0-9]{1,2})")
MONTH_YEAR = re.compile(r"([0-9]{1,2})[-/.]([0-9]{4})")
MONTH_NAME_YEAR = re.compile(r"([a-z]{3,9})\.?[\s-]+([0-9]{4})", re.IGNORECASE)
MONTHS = {name.lower(): n for n, name in enumerate(calendar.month_name) if name}


def order_of(raws: Iterable[Raw]) -> DateOrder | None:
    """The order that a column's own dates prove; ANY when nothing does, None when they prove both."""
    proven = set()
    for text in {raw for raw in raws if isinstance(raw, str)}:
        match = SLASHED.match(tidy(text))
        if match and match[2] != ".":
            first, second = int(match[1]), int(match[3])
            if first > 12 >= second:
                proven.add(DateOrder.DAY_FIRST)
            elif second > 12 >= first:
                proven.add(DateOrder.MONTH_FIRST)
    if len(proven) == 2:
        return None
    return proven.pop() if proven else DateOrder.ANY


def parse_date_cell(column: Column, raw: Raw, order: DateOrder | None) -> Parsed:
    """A day. ``order`` is that of the column's text dates, None when two orders stand in it."""
    value, fault = _any_day(raw, order)
    if isinstance(value, date) and value >= OPEN_END and not column.open_ended:
        return None, NOT_THIS_CENTURY
    return value, fault


def _any_day(raw: Raw, order: DateOrder | None) -> Parsed:
    if isinstance(raw, bool | time | timedelta):
        return None, Fault(kind="not a date", expected=DATE_WANTED)
    if isinstance(raw, datetime):
        return _within(raw.date())
    if isinstance(raw, date):
        return _within(raw)
    if isinstance(raw, int | float):
        return _from_number(float(raw))
    text = tidy(str(raw))
    timed = re.fullmatch(r"(.+?)[T ]00:00(:00)?", text)
    return parse_date_text(timed[1] if timed else text, order)


def parse_expiry_cell(column: Column, raw: Raw, order: DateOrder | None) -> Parsed:
    """An expiry day; a month alone means its last day. Columns with a word for 'no end' take it."""
    if isinstance(raw, str):
        word = _word_of(column, raw)
        if word:
            return word, None
        month = _month(tidy(raw))
        if month:
            return _or_never(column, *_within(date(*month, calendar.monthrange(*month)[1])))
    if _has_an_hour(raw):
        return _hour_of_expiry(column, raw, order)
    value, fault = parse_date_cell(column, raw, order)
    if fault and fault.expected == DATE_WANTED:
        wanted = EXPIRY_WANTED + "".join(f", or '{one}'" for one in column.choices)
        nearest = fault.nearest or _word_near(column, raw)
        fault = replace(fault, expected=wanted, nearest=nearest)
    return _or_never(column, value, fault)


def _or_never(column: Column, value: Any, fault: Fault | None) -> Parsed:
    """A day that stands for no end as the column's word for it, where it has one."""
    if not isinstance(value, date) or value < OPEN_END:
        return value, fault
    if not column.open_ended:
        return None, NOT_THIS_CENTURY
    return (column.choices[0] if column.choices else value), None


def _word_near(column: Column, raw: Raw) -> tuple[str, ...]:
    words = dict(column.also) | {one: one for one in column.choices}
    return tuple(words[one] for one in Candidates(words).nearest(shown(raw), 1)) if words else ()


def _word_of(column: Column, raw: str) -> str:
    """The word of the column that a cell says in place of a day."""
    return "" if "?" in raw else _words_for_no_day(column.also, column.choices).get(plain(raw), "")


@cache
def _words_for_no_day(also: tuple[tuple[str, str], ...], choices: tuple[str, ...]) -> dict[str, str]:
    """The words that a column takes in place of a day, as they are compared, each with the column's own word."""
    return {plain(word): choice for word, choice in reversed((*also, *((one, one) for one in choices)))}


def _has_an_hour(raw: Raw) -> bool:
    if isinstance(raw, datetime):
        return raw.time() != time()
    return isinstance(raw, float) and not raw.is_integer()


def _hour_of_expiry(column: Column, raw: Raw, order: DateOrder | None) -> Parsed:
    """An hour would be lost, and the hours after it wrongly counted in: the day before is the last whole one."""
    day, fault = parse_date_cell(column, raw, order)
    if not isinstance(day, date):
        return None, fault
    return None, Fault(kind="not a date", expected=EXPIRY_WANTED, nearest=((day - timedelta(days=1)).isoformat(),))


def parse_date_text(text: str, order: DateOrder | None) -> Parsed:
    """A day written as text: ISO, with the month's name, or in an order that is known."""
    match = ISO.fullmatch(text) or PACKED.fullmatch(text)
    if match:
        return _made(int(match[1]), int(match[2]), int(match[3]))
    match = SLASHED.fullmatch(text)
    if match:
        return _slashed(match, order)
    match = DAY_MONTH_NAME.fullmatch(text)
    if match and _month_number(match[2]):
        return _made(_year(match[3]), _month_number(match[2]), int(match[1]))
    match = MONTH_NAME_DAY.fullmatch(text)
    if match and _month_number(match[1]):
        return _made(int(match[3]), _month_number(match[1]), int(match[2]))
    if re.fullmatch(r"[0-9]{5}(\.[0-9]+)?", text):
        return _from_number(float(text))
    return None, Fault(kind="not a date", expected=DATE_WANTED)


def serial_day(number: float) -> date | None:
    """The day of a spreadsheet's day number (1900 system); None outside the years 2000 to 2100."""
    if not SERIALS[0] <= number < SERIALS[1] + 1:
        return None
    return (EPOCH + timedelta(days=int(number))).date()


def _slashed(match: re.Match[str], order: DateOrder | None) -> Parsed:
    first, second, year = int(match[1]), int(match[3]), _year(match[4])
    if match[2] == ".":  # with points the day comes first wherever it is used
        return _made(year, second, first)
    if order is None:
        return None, Fault(kind="two date orders", expected=DATE_WANTED, nearest=_both_ways(first, second, year))
    if order is DateOrder.ANY:
        if first == second:
            return _made(year, first, first)
        return None, Fault(
            kind="ambiguous date",
            expected=f"{DATE_WANTED}; or name the order in the setting 'date order'",
            nearest=_both_ways(first, second, year),
        )
    day, month = (first, second) if order is DateOrder.DAY_FIRST else (second, first)
    return _made(year, month, day)


def _both_ways(first: int, second: int, year: int) -> tuple[str, ...]:
    made = (_made(year, second, first)[0], _made(year, first, second)[0])
    return tuple(dict.fromkeys(day.isoformat() for day in made if day))


def _from_number(number: float) -> Parsed:
    day = date(9999, 12, 31) if number == LAST_SERIAL else serial_day(number)
    if day is not None:
        return day, None
    if number == int(number) and PACKED.fullmatch(str(int(number))):
        return parse_date_text(str(int(number)), DateOrder.ANY)
    return None, Fault(kind="not a date", expected=DATE_WANTED)


def _made(year: int, month: int, day: int) -> Parsed:
    try:
        return _within(date(year, month, day))
    except ValueError:
        return None, Fault(kind="no such day", expected=DATE_WANTED, nearest=_days_near(year, month, day))


def _days_near(year: int, month: int, day: int) -> tuple[str, ...]:
    """The days that one which is not in the calendar may be: month and day exchanged, or the month's last day."""
    if not 2000 <= year <= 2100:
        return ()
    if month > 12 >= day > 0 and month <= calendar.monthrange(year, day)[1]:
        return (date(year, day, month).isoformat(),)
    if 1 <= month <= 12 and 28 < day <= 31:
        return (date(year, month, calendar.monthrange(year, month)[1]).isoformat(),)
    return ()


def _within(day: date) -> Parsed:
    if 2000 <= day.year <= 2100 or day >= OPEN_END:
        return day, None
    return None, NOT_THIS_CENTURY


def _month(text: str) -> tuple[int, int] | None:
    match = YEAR_MONTH.fullmatch(text)
    if match:
        return _real_month(int(match[1]), int(match[2]))
    match = MONTH_YEAR.fullmatch(text)
    if match:
        return _real_month(int(match[2]), int(match[1]))
    match = MONTH_NAME_YEAR.fullmatch(text)
    return _real_month(int(match[2]), _month_number(match[1])) if match else None


def _real_month(year: int, month: int) -> tuple[int, int] | None:
    return (year, month) if 1 <= month <= 12 and 1 <= year <= 9999 else None


def _month_number(word: str) -> int:
    found = [n for name, n in MONTHS.items() if name.startswith(word.lower()) or (word.lower() == "sept" and n == 9)]
    return found[0] if len(found) == 1 else 0


def _year(text: str) -> int:
    return int(text) + 2000 if len(text) == 2 else int(text)
