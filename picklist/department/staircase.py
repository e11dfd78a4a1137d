"""Turnaround for many releases at once: the walk forwards as tables on a grid of minutes."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from picklist.department.work import NEVER
from picklist.model.routes import Step
from picklist.model.uses import Pace
from picklist.sets.calendar import Calendar
from picklist.sets.trail import minutes_of

Minutes = NDArray[np.int64]  # whole minutes, any shape


class Staircases:
    """``ready`` of routes for releases from ``first`` to ``last`` (minutes since the epoch).

    A table is made once for each step's turns and once for each route; a draw is a look-up.
    Equal to ``sets.walk.ready_after`` at each minute; ``NEVER`` past the grid.
    """

    def __init__(self, calendar: Calendar, first: int, last: int) -> None:
        self._calendar = calendar
        self._first = first
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
        gate = self._calendar.gate(step.station, step.run, minutes)
        if gate is None:
            return arrives + minutes
        key = (step.station, step.run, minutes)
        if key not in self._ends:
            turns = [gate.begin_from(minute) for minute in self._grid.tolist()]
            over = [NEVER if turn is None else gate.end(turn) for turn in turns]
            self._ends[key] = np.array([NEVER if end is None else end for end in over], dtype=np.int64)
        return self._look_up(self._ends[key], arrives)

    def _look_up(self, table: Minutes, minutes: Minutes) -> Minutes:
        places = minutes - self._first
        found: Minutes = np.where(places >= len(table), NEVER, table[np.clip(places, 0, len(table) - 1)])
        return found
