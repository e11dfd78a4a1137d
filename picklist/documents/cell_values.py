"""What a finished string becomes in a cell: a count, a day or a moment where its column holds those, else text."""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta

Value = str | int | date | datetime

COUNTS = frozenset({"Open", "Hold", "Total", "Wanted", "There", "Kept back", "Expired", "Revision"})
DAYS = frozenset({"Expiry"})
MOMENTS = frozenset(
    {
        *("Complete by", "Start", "End", "Cart by", "Decide by", "Latest", "Last resort"),
        *("Start at the latest", "First due", "Received", "Ready", "Due"),
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
