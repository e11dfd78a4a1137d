"""Look up turnaround for many releases at once: walks forwards as tables on a grid of minutes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from picklist.department.run_terms import NEVER
from picklist.model.routes import Step
from picklist.model.uses import Pace
from picklist.sets.calendar import Calendar, instant_of, minute_from
from picklist.sets.start_slots import StartSlots
from picklist.sets.timed_route import minutes_of

Minutes = NDArray[np.signedinteger[Any]]  # whole minutes, any shape
KEPT_AS = np.int32  # what is kept for every case and draw: in half the memory, and NEVER and its like fit


class ReadyTables:
    """``ready`` of routes for releases from ``first`` to ``last`` (minutes since the epoch).

    A table is made once for each step and once for each route; a draw only looks up.
    Equal to ``TimedRoute.walk_after`` at each minute; ``NEVER`` past the grid.
    """

    def __init__(self, calendar: Calendar, first: int, last: int) -> None:
        self.calendar = calendar
        self._first, self._last = first, last
        self._grid = np.arange(first, last + 1, dtype=np.int64)
        self._ends: dict[tuple[str, str, int], Minutes] = {}
        self._routes: dict[tuple[tuple[Step, ...], Pace], Minutes] = {}

    def ready(self, steps: tuple[Step, ...], pace: Pace, released: Minutes) -> Minutes:
        """When sets of a route released at these minutes are ready, in the same shape."""
        key = (steps, pace)
        if key not in self._routes:
            self._routes[key] = self._climb(steps, pace)
        return self._look_up(self._routes[key], released)

    def _climb(self, steps: Sequence[Step], pace: Pace) -> Minutes:
        ends: dict[str, Minutes] = {}
        ready = self._grid
        for step in steps:
            arrives = self._grid
            for name in step.after:
                arrives = np.maximum(arrives, ends[name])
            ends[step.name] = self._take(step, minutes_of(step, pace), arrives)
            ready = np.maximum(ready, ends[step.name])
        return ready

    def _take(self, step: Step, minutes: int, arrives: Minutes) -> Minutes:
        start_slots = self.calendar.start_slots(step.station, step.run, minutes)
        if start_slots is None:
            return arrives + minutes
        key = (step.station, step.run, minutes)
        if key not in self._ends:
            self._ends[key] = self._table(start_slots, step.station)
        return self._look_up(self._ends[key], arrives)

    def _table(self, start_slots: StartSlots, station: str) -> Minutes:
        """When a step that arrives at each minute of the grid is over."""
        turns = np.array(start_slots.turns(self._first, self._last), dtype=np.int64).reshape(-1, 2)
        places = np.searchsorted(turns[:, 1], self._grid)
        firsts = np.append(turns[:, 0], NEVER)
        done: Minutes = np.maximum(firsts[places], self._grid) + start_slots.minutes
        return self._taken_out(done, station) if start_slots.past_closing else done

    def _taken_out(self, done: Minutes, station: str) -> Minutes:
        """When cycles done at these minutes are unloaded: at once while the station works, else when it opens."""
        windows = self.calendar.windows(station, instant_of(self._first), instant_of(self._last))
        opens = np.array([*(minute_from(opens) for opens, _ in windows), NEVER], dtype=np.int64)
        closes = np.array([minute_from(closes) for _, closes in windows], dtype=np.int64)
        return np.maximum(opens[np.searchsorted(closes, done)], done)

    def _look_up(self, table: Minutes, minutes: Minutes) -> Minutes:
        places = minutes - self._first
        found: Minutes = np.where(places >= len(table), NEVER, table[np.clip(places, 0, len(table) - 1)])
        return found
