"""The starts to which a case may be moved: the schedule's grid within what rooms and people allow."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from datetime import datetime

from picklist.clock import minutes_between
from picklist.model.schedule import Case
from picklist.sets.calendar import instant_of, minute_from, minute_until
from picklist.sets.remedies.other_rooms import allowed_starts
from picklist.sets.remedies.planned_day import PlannedDay

Span = tuple[datetime, datetime]
STEP = 5  # minutes: schedules are written on a grid


class Starts:
    """Where one case alone may start, found once for each room."""

    def __init__(self, planned: PlannedDay, case: Case) -> None:
        self.planned = planned
        self.case = case
        self._in_room: dict[str, frozenset[datetime]] = {}

    def allowed(self, room: str) -> frozenset[datetime]:
        """The grid's moments at which the case may start in a room; in another room its present start too."""
        if room not in self._in_room:
            spans = allowed_starts(self.planned, self.case, room)
            self._in_room[room] = self._allowed(room, spans, (on_grid(*span) for span in spans))
        return self._in_room[room]

    def nearest(self, room: str) -> datetime | None:
        """The first of ``nearest_first`` in a room; None when there is none."""
        spans, start = allowed_starts(self.planned, self.case, room), minute_until(self.case.start)
        near = self._allowed(room, spans, (_around(start, on_grid(*span)) for span in spans))
        return next(iter(self.by_distance(near)), None)

    def _allowed(self, room: str, spans: Sequence[Span], grids: Iterable[range]) -> frozenset[datetime]:
        found = {instant_of(minute) for grid in grids for minute in grid} - {self.case.start}
        if room != self.case.room and any(first <= self.case.start <= last for first, last in spans):
            found.add(self.case.start)
        return frozenset(found)

    def nearest_first(self, rooms: tuple[str, ...]) -> list[datetime]:
        """The starts allowed in any of the rooms."""
        return self.by_distance({moment for room in rooms for moment in self.allowed(room)})

    def by_distance(self, starts: Collection[datetime]) -> list[datetime]:
        """Starts by how far they are from the present one, the earlier first on a tie."""
        return sorted(starts, key=lambda start: (abs(minutes_between(self.case.start, start)), start))


def on_grid(first: datetime, last: datetime) -> range:
    """The grid's minutes since the epoch from one instant to another, both included."""
    begin = -(-minute_from(first) // STEP) * STEP
    return range(begin, minute_until(last) + 1, STEP)


def _around(minute: int, grid: range) -> range:
    """The moments of a grid of which one is nearest to a minute and another is next to it."""
    at = min(max(0, (minute - grid.start) // STEP), len(grid))
    return grid[max(0, at - 2) : at + 3]
