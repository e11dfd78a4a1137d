"""A shift made longer: what an hour more at a station would be in its table of hours."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from datetime import date, datetime, time, timedelta

from picklist.model.routes import WorkPeriod

DAY = 1440


def lengthen(
    hours: Sequence[WorkPeriod], stations: Collection[str], minutes: int, *, earlier: bool
) -> tuple[WorkPeriod, ...]:
    """Hours whose first period of each weekday opens earlier, or whose last one closes later.

    Breaks stay as they are; a period that would fill the whole day too.
    """
    edges: dict[tuple[str, int], time] = {}
    for period in hours:
        key = (period.station, period.weekday)
        pick = min if earlier else max
        edges[key] = pick(edges.get(key, period.opens), period.opens)
    return tuple(
        _stretch(period, minutes, earlier)
        if period.station in stations and edges[period.station, period.weekday] == period.opens
        else period
        for period in hours
    )


def _stretch(period: WorkPeriod, minutes: int, earlier: bool) -> WorkPeriod:
    length = (_minutes(period.closes) - _minutes(period.opens)) % DAY or DAY
    if length + minutes >= DAY:
        return period
    if not earlier:
        return replace(period, closes=_moved(period.closes, minutes))
    eve = _minutes(period.opens) < minutes
    return replace(period, weekday=(period.weekday - eve) % 7, opens=_moved(period.opens, -minutes))


def _minutes(wall: time) -> int:
    return wall.hour * 60 + wall.minute


def _moved(wall: time, minutes: int) -> time:
    return (datetime.combine(date(2000, 1, 2), wall) + timedelta(minutes=minutes)).time()
