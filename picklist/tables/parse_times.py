"""Cells that hold times of day and moments."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from datetime import date, datetime, time, timedelta

from picklist.settings import DateOrder
from picklist.tables.cells import Fault, Parsed, Raw, hours_text, shown, tidy
from picklist.tables.columns import CellType, Column
from picklist.tables.parse_dates import DATE_WANTED, EPOCH, parse_date_cell, parse_date_text, serial_day

TIME_WANTED = "a time of day as 07:30"
STAMP_WANTED = "a day and a time as 2026-11-26 14:05"
CLOCK = re.compile(r"([0-9]{1,2})\s*[:.h]\s*([0-9]{2})(?::([0-9]{2}))?\s*([ap](?:\.?\s?m)?\.?)?", re.IGNORECASE)
HOUR_ONLY = re.compile(r"([0-9]{1,2})\s*([ap](?:\.?\s?m)?\.?)", re.IGNORECASE)
DIGITS = re.compile(r"([0-9]{1,2})([0-9]{2})\s*([ap](?:\.?\s?m)?\.?)?", re.IGNORECASE)
FRACTION = re.compile(r"0?\.[0-9]+")
_A_DAY = Column(name="day", type=CellType.DATE, help="")
SECOND = timedelta(seconds=1)
MINUTE = timedelta(minutes=1)
DAY = timedelta(days=1)


def parse_time_cell(column: Column, raw: Raw) -> Parsed:
    """A time of day to the minute, from a time, a part of a day, ``7:30 am``, ``730a``, ``07:30`` or ``0730``."""
    if isinstance(raw, bool):
        return None, _no_time(raw)
    if isinstance(raw, datetime):
        if raw.year > 1904:
            return None, Fault(kind="date with time", expected=TIME_WANTED, nearest=(f"{raw:%H:%M}",))
        return _from_span(column, raw - datetime(raw.year, raw.month, raw.day))  # noqa: DTZ001 (wall times)
    if isinstance(raw, date):
        return None, Fault(kind="not a time", expected=TIME_WANTED)
    if isinstance(raw, time):
        return _from_span(column, timedelta(hours=raw.hour, minutes=raw.minute, seconds=raw.second))
    if isinstance(raw, timedelta):
        return _from_span(column, raw)
    if isinstance(raw, int | float):
        return _from_number(column, raw)
    return _from_text(column, tidy(str(raw)))


def parse_times_cell(column: Column, raw: Raw) -> Parsed:
    """Several times of day separated by ; in order, none twice."""
    pieces: list[Raw] = [raw]
    if isinstance(raw, str):
        pieces = [piece for piece in map(tidy, re.split(r"[;,\n]", raw)) if piece]
    found = []
    for piece in pieces:
        value, fault = parse_time_cell(column, piece)
        if fault:
            return None, fault
        found.append(value)
    return tuple(sorted(set(found))), None


def parse_stamp_cell(column: Column, raw: Raw, order: DateOrder | None) -> Parsed:
    """A wall day and time (naive datetime, to the minute)."""
    if isinstance(raw, bool | time | timedelta):
        return None, Fault(kind="no day", expected=STAMP_WANTED)
    if column.timed and _is_day_alone(raw):
        return None, Fault(kind="no time", expected=STAMP_WANTED)
    if isinstance(raw, date):  # a datetime is one
        return _of_this_century(raw)
    if isinstance(raw, int | float):
        day = serial_day(float(raw))
        if day is None:
            return None, Fault(kind="not a stamp", expected=STAMP_WANTED)
        return _to_minute(EPOCH + timedelta(days=float(raw)))
    return _stamp_text(column, tidy(str(raw)), order)


def _is_day_alone(raw: Raw) -> bool:
    """Whether a cell holds a day and no time; a sheet holds midnight in no other way."""
    if isinstance(raw, date):
        return not isinstance(raw, datetime)
    return isinstance(raw, int | float) and serial_day(float(raw)) is not None and float(raw).is_integer()


def parse_stamp_text(text: str) -> Parsed:
    """A wall day and time in a text that is in no table."""
    return _stamp_text(_A_DAY, tidy(text), DateOrder.ANY)


def _stamp_text(column: Column, text: str, order: DateOrder | None) -> Parsed:
    if re.search(r"[0-9](Z|[+-][0-9]{2}:?[0-9]{2})$", text) and ":" in text:
        return None, Fault(kind="not a stamp", expected=f"{STAMP_WANTED}, site time")
    parts = re.fullmatch(
        r"(.*[0-9]{2})[T ,]+([0-9]{1,2}[:.h]?[0-9]{2}.*|[0-9]{1,2}\s*[ap]\.?m\.?)", text, re.IGNORECASE
    )
    if not parts:
        return None, _incomplete_stamp(column, text, order)
    day, wrong_day = parse_date_text(parts[1].rstrip(","), order)
    if wrong_day is None:
        _, wrong_day = _of_this_century(day)
    wall, wrong_time = _from_text(column, parts[2])
    fault = wrong_day or wrong_time
    if fault is None:
        return datetime.combine(day, wall), None
    days = wrong_day.nearest if wrong_day else (day.isoformat(),)
    walls = wrong_time.nearest if wrong_time else (f"{wall:%H:%M}",)
    wanted = fault.expected.replace(DATE_WANTED, STAMP_WANTED).replace(TIME_WANTED, STAMP_WANTED)
    return None, replace(fault, expected=wanted, nearest=tuple(f"{one} {hour}" for one in days for hour in walls))


def _incomplete_stamp(column: Column, text: str, order: DateOrder | None) -> Fault:
    if parse_date_text(text, order)[0] is not None:
        return Fault(kind="no time", expected=STAMP_WANTED)
    if _from_text(column, text)[0] is not None:
        return Fault(kind="no day", expected=STAMP_WANTED)
    return Fault(kind="not a stamp", expected=STAMP_WANTED)


def _of_this_century(moment: date) -> Parsed:
    """The moment to the minute, midnight for a day alone."""
    _, fault = parse_date_cell(_A_DAY, moment, DateOrder.ANY)
    if fault:
        return None, fault
    if isinstance(moment, datetime):
        return _to_minute(moment)
    return datetime(moment.year, moment.month, moment.day), None  # noqa: DTZ001 (a wall time)


def _to_minute(moment: datetime) -> Parsed:
    return (moment + SECOND).replace(second=0, microsecond=0), None


def _from_number(column: Column, number: float) -> Parsed:
    if 0 < number < 1:  # 0 is what a formula shows of an empty cell
        return _from_span(column, timedelta(days=float(number)))
    if math.isfinite(number) and number == int(number) and number >= 100:
        return _from_text(column, f"{int(number):04d}")
    if 1 <= number < 2 and number != int(number):
        return _from_span(column, timedelta(days=float(number)))
    return None, _no_time(number)


def _from_text(column: Column, text: str) -> Parsed:
    if text.casefold() == "midnight":
        return time(0), None
    if text.casefold() == "noon":
        return time(12), None
    if FRACTION.fullmatch(text):
        return _from_span(column, timedelta(days=float(text)))
    parts = CLOCK.fullmatch(text)
    if parts:
        return _from_clock(column, (int(parts[1]), int(parts[2]), int(parts[3] or 0)), parts[4] or "", text)
    parts = HOUR_ONLY.fullmatch(text)
    if parts:
        return _from_clock(column, (int(parts[1]), 0, 0), parts[2], text)
    parts = DIGITS.fullmatch(text)
    if parts:
        return _from_clock(column, (int(parts[1]), int(parts[2]), 0), parts[3] or "", text)
    return None, _no_time(text)


def _from_clock(column: Column, hms: tuple[int, int, int], half: str, text: str) -> Parsed:
    hour, minute, second = hms
    if minute > 59 or second > 59:
        return None, _no_time(text)
    if half:
        if not 1 <= hour <= 12:
            return None, Fault(kind="not a time", expected=TIME_WANTED)
        hour = hour % 12 + (12 if half[0] in "pP" else 0)
    return _from_span(column, timedelta(hours=hour, minutes=minute, seconds=second))


def _from_span(column: Column, span: timedelta) -> Parsed:
    span = (span + SECOND) // MINUTE * MINUTE  # a part of a day may miss its minute by a hair
    if span < timedelta(0):
        return None, Fault(kind="below zero", expected=TIME_WANTED)
    if span == DAY and column.closing:
        return time(0), None
    if span >= DAY:
        return None, _past_midnight(span)
    minutes = span // MINUTE
    return time(minutes // 60, minutes % 60), None


def _past_midnight(span: timedelta) -> Fault:
    rest = span - DAY
    near = (hours_text(rest),) if rest < DAY else ()
    return Fault(
        kind="past midnight",
        expected="a time from 00:00 to 23:59; after midnight it belongs to the next day",
        nearest=near,
    )


def _no_time(raw: Raw) -> Fault:
    text = shown(raw)
    near = (f"{int(text):02d}:00",) if re.fullmatch(r"[0-9]{1,2}", text) and int(text) < 24 else ()
    return Fault(kind="not a time", expected=TIME_WANTED, nearest=near)
