"""A route over the site's calendar at one pace, compiled once and walked many times."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from picklist.model.routes import Step
from picklist.model.uses import Pace, StepTime, Walk
from picklist.sets.calendar import Calendar, instant_of, minute_from, minute_until


def minutes_of(step: Step, pace: Pace) -> int:
    """The minutes of a step at a pace; the least are never more than the usual."""
    return step.usual_minutes if pace is Pace.USUAL else min(step.least_minutes, step.usual_minutes)


class TimedRoute:
    """The steps of a route with their start times and neighbours; instants in, instants out.

    Every step function is monotone, so ``released <= release(needed)`` exactly when
    ``ready(released) <= needed``, at the resolution of a minute. Raises ValueError when a
    step stands before one that it waits for.
    """

    __slots__ = ("_after", "_before", "_minutes", "_slots", "steps")

    def __init__(self, steps: Sequence[Step], calendar: Calendar, pace: Pace) -> None:
        self.steps = tuple(steps)
        self._minutes = [minutes_of(step, pace) for step in steps]
        self._slots = [
            calendar.start_slots(step.station, step.run, minutes)
            for step, minutes in zip(steps, self._minutes, strict=True)
        ]
        self._before = _predecessors(self.steps)
        self._after: list[list[int]] = [[] for _ in steps]
        for at, before in enumerate(self._before):
            for earlier in before:
                self._after[earlier].append(at)

    def ready(self, released: datetime) -> datetime | None:
        """When everything is done for a set released at an instant."""
        start = minute_from(released)
        times, stuck = self._forwards(start)
        return None if stuck is not None else instant_of(max((ends for _, ends in times), default=start))

    def release(self, needed: datetime) -> datetime | None:
        """The latest release of a set that must be ready at an instant."""
        end = minute_until(needed)
        begins = self._backwards(end)
        return None if begins is None else instant_of(self._earliest_root(begins, end))

    def walk_after(self, released: datetime) -> Walk | None:
        """Each step as early as it can be."""
        start = minute_from(released)
        times, stuck = self._forwards(start)
        if stuck is not None:
            return None
        ready = instant_of(max((ends for _, ends in times), default=start))
        return Walk(released=released, ready=ready, steps=self._step_times(times))

    def walk_before(self, needed: datetime) -> Walk | None:
        """Each step as late as it may be."""
        end = minute_until(needed)
        begins = self._backwards(end)
        if begins is None:
            return None
        times = [(begin, self._end(at, begin)) for at, begin in enumerate(begins)]
        released = instant_of(self._earliest_root(begins, end))
        return Walk(released=released, ready=needed, steps=self._step_times(times))

    def latest_ends(self, needed: int) -> list[int] | None:
        """The latest end of each step, in minutes since the epoch; None when one cannot start early enough."""
        begins = self._backwards(needed)
        return None if begins is None else [self._end(at, begin) for at, begin in enumerate(begins)]

    def stuck_step(self, released: datetime) -> Step | None:
        """The first step that cannot start for a set released at an instant; None when all can."""
        _, stuck = self._forwards(minute_from(released))
        return None if stuck is None else self.steps[stuck]

    def _forwards(self, released: int) -> tuple[list[tuple[int, int]], int | None]:
        """(start, end) of each step as early as possible, and the step that cannot start, if any."""
        times: list[tuple[int, int]] = []
        for at, before in enumerate(self._before):
            begin: int | None = released
            for earlier in before:
                begin = max(begin or 0, times[earlier][1])
            slots = self._slots[at]
            end: int | None = (begin or 0) + self._minutes[at]
            if slots is not None:
                begin = slots.begin_from(begin or 0)
                end = None if begin is None else slots.end(begin)
            if begin is None or end is None:
                return times, at
            times.append((begin, end))
        return times, None

    def _backwards(self, needed: int) -> list[int] | None:
        """The latest start of each step, or None when one cannot start early enough."""
        begins = [needed] * len(self.steps)
        for at in range(len(self.steps) - 1, -1, -1):
            by = min((begins[later] for later in self._after[at]), default=needed)
            slots = self._slots[at]
            begin = by - self._minutes[at] if slots is None else slots.begin_to_end_by(by)
            if begin is None:
                return None
            begins[at] = begin
        return begins

    def _end(self, at: int, begin: int) -> int:
        slots = self._slots[at]
        end = None if slots is None else slots.end(begin)
        return begin + self._minutes[at] if end is None else end

    def _earliest_root(self, begins: list[int], needed: int) -> int:
        return min((begins[at] for at, before in enumerate(self._before) if not before), default=needed)

    def _step_times(self, times: Sequence[tuple[int, int]]) -> tuple[StepTime, ...]:
        return tuple(
            StepTime(step=step.name, station=step.station, begins=instant_of(begin), ends=instant_of(end))
            for step, (begin, end) in zip(self.steps, times, strict=True)
        )


def _predecessors(steps: Sequence[Step]) -> list[tuple[int, ...]]:
    place: dict[str, int] = {}
    found: list[tuple[int, ...]] = []
    for at, step in enumerate(steps):
        unknown = [name for name in step.after if name not in place]
        if unknown:
            raise ValueError(f"step {step.name} stands before {unknown[0]}, for which it waits")
        found.append(tuple(place[name] for name in step.after))
        place[step.name] = at
    return found
