"""Cells of a hospital's own export as Schedule would have them: times in one cell with the day, lengths, ends."""

from __future__ import annotations

import math
import re
from datetime import datetime, time, timedelta

from picklist.tables.cells import Raw, is_empty, tidy
from picklist.tables.parse_times import parse_time_cell
from picklist.tables.schema import SCHEDULE

DAY_AND_TIME = re.compile(
    r"(.*?[0-9]{2,4})[T ,]+([0-9]{1,2}[:.h][0-9]{2}(?::[0-9]{2})?(?:\s*[ap](?:\.?\s?m)?\.?)?"
    r"|[0-9]{1,2}\s*[ap]\.?m\.?)",
    re.IGNORECASE,
)
HOURS_AND_MINUTES = re.compile(
    r"([0-9]{1,2})\s*(?::|h|hrs?|hours?)\s*([0-9]{1,2})?\s*(?:m|min|minutes)?", re.IGNORECASE
)
MINUTES = re.compile(r"([0-9]{1,4})(?:[.,]0+)?\s*(?:min|mins|minutes|')?", re.IGNORECASE)
HOURS = re.compile(r"([0-9]{1,2})(?:[.,]([0-9]{1,2}))?\s*(?:h|hrs?|hours?)?", re.IGNORECASE)
START = SCHEDULE.column("start")
FULL_DAY = 24 * 60


def day_of(raw: Raw) -> Raw:
    """The day of a cell that holds a day, or a day and a time."""
    if isinstance(raw, datetime):
        return raw.date()
    parts = DAY_AND_TIME.fullmatch(tidy(raw)) if isinstance(raw, str) else None
    return parts[1].rstrip(",") if parts else raw


def start_of(raw: Raw) -> Raw:
    """The time of a cell that holds a time, or a day and a time."""
    if isinstance(raw, datetime) and raw.year > 1904:
        return raw.time()
    parts = DAY_AND_TIME.fullmatch(tidy(raw)) if isinstance(raw, str) else None
    return parts[2] if parts else raw


def minutes_of(raw: Raw) -> Raw:
    """A length in minutes: 90, ``1:30``, ``1 h 30 min`` or a cell with a time; anything else as it is."""
    if isinstance(raw, datetime | time | timedelta):
        span = raw if isinstance(raw, timedelta) else timedelta(hours=raw.hour, minutes=raw.minute)
        return round(span / timedelta(minutes=1))
    if not isinstance(raw, str):
        return raw
    text = tidy(raw)
    whole = MINUTES.fullmatch(text)
    if whole:
        return int(whole[1])
    parts = HOURS_AND_MINUTES.fullmatch(text)
    return int(parts[1]) * 60 + int(parts[2] or 0) if parts and int(parts[2] or 0) < 60 else raw


def minutes_of_hours(raw: Raw) -> Raw:
    """A length in hours as minutes: 1.5, ``1,5`` or ``1:30``; anything else as it is."""
    if isinstance(raw, bool):
        return raw
    if isinstance(raw, int | float):
        return round(raw * 60) if math.isfinite(raw * 60) else raw
    parts = HOURS.fullmatch(tidy(raw)) if isinstance(raw, str) else None
    if parts:
        return round(float(f"{parts[1]}.{parts[2] or 0}") * 60)
    return minutes_of(raw)


def minutes_until(start: Raw, end: Raw) -> Raw:
    """The minutes from a start to an end, which may be after midnight; the end as it is where either is no time.

    They are below zero where the end is before the start on the same day.
    """
    begins, no_start = parse_time_cell(START, start_of(start))
    ends, no_end = parse_time_cell(START, start_of(end))
    if no_start or no_end:
        return end
    length: int = (ends.hour - begins.hour) * 60 + ends.minute - begins.minute
    return length if _on_one_day(start, end) else length % FULL_DAY


def _on_one_day(start: Raw, end: Raw) -> bool:
    """Whether both cells state a day, and the same."""
    days = [day_of(raw) for raw in (start, end)]
    return days[0] == days[1] and not any(
        is_empty(day) or day == raw for day, raw in zip(days, (start, end), strict=True)
    )


def is_clock(raw: Raw) -> bool:
    """Whether a length is written as on a clock, so that it can be said that it was read as hours and minutes."""
    if isinstance(raw, datetime | time | timedelta):
        return True
    return isinstance(raw, str) and ":" in raw
