"""The site's calendar as the forward run and the draws ask it."""

from __future__ import annotations

from picklist.department.work import NEVER
from picklist.sets.calendar import Calendar


class CalendarTimes:
    """Working hours, fixed starts and departures of a calendar, with ``NEVER`` for no turn at all."""

    def __init__(self, calendar: Calendar) -> None:
        self._calendar = calendar

    def begin(self, station: str, run: str, minutes: int, at: int) -> int:
        """The first moment from ``at`` at which a step of ``minutes`` may begin."""
        if at >= NEVER:
            return NEVER
        start_slots = self._calendar.start_slots(station, run, minutes)
        if start_slots is None:
            return at
        begins = start_slots.begin_from(at)
        return NEVER if begins is None else begins

    def end(self, station: str, run: str, minutes: int, begins: int) -> int:
        """When a step begun then is over and unloaded."""
        if begins >= NEVER:
            return NEVER
        start_slots = self._calendar.start_slots(station, run, minutes)
        ends = begins + minutes if start_slots is None else start_slots.end(begins)
        return NEVER if ends is None else ends
