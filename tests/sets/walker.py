"""A walk of a route minute by minute, written a second time: it reads the wall clock as a person at the door does.

It knows only what the sheets say. Somebody stands at each station and looks at the clock every
minute: at the first minute at which the clock shows the opening time or later the shift begins,
at the first at which it shows the closing time or later it ends. A run leaves at the first
minute at which the clock shows its time or later. For every minute of a stretch of days it is
written down when a set that arrives then gets out, so that a latest release is found by looking
at all of them.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from functools import cache
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from picklist.model.routes import Step, WorkPeriod
from picklist.model.site import Site
from picklist.model.uses import Pace

DAY = 1440
BEFORE, AFTER = 17, 24  # days looked at around the middle of the stretch
NEVER = 10**9
Line = NDArray[np.int64]
Marks = NDArray[np.bool_]


@cache
def wall_line(zone: str, middle: date, before: int, after: int) -> tuple[int, Line]:
    """The first minute (since 1970, UTC) of the stretch, and what the wall clock shows at each of its minutes.

    The clock is a number: the day's ordinal times 1440 and the minutes since midnight as shown.
    """
    begins = datetime(middle.year, middle.month, middle.day, tzinfo=UTC) - timedelta(days=before)
    first = int(begins.timestamp()) // 60
    shown = []
    for minute in range(first, first + (before + after) * DAY):
        local = datetime.fromtimestamp(minute * 60, tz=ZoneInfo(zone))
        shown.append(local.toordinal() * DAY + local.hour * 60 + local.minute)
    return first, np.array(shown, dtype=np.int64)


@dataclass
class Walker:
    """A site over a stretch of days; all minutes count from the stretch's first."""

    site: Site
    middle: date
    before: int = BEFORE
    after: int = AFTER
    clock: Line = field(init=False)
    first: int = field(init=False)

    def __post_init__(self) -> None:
        self.first, self.clock = wall_line(self.site.settings.time_zone, self.middle, self.before, self.after)
        self._highest = np.maximum.accumulate(self.clock)

    def minute(self, instant: datetime) -> int:
        """The minute of the stretch at an instant on a whole minute."""
        return int(instant.timestamp()) // 60 - self.first

    def instant(self, minute: int) -> datetime:
        """The instant of a minute of the stretch."""
        return datetime.fromtimestamp((minute + self.first) * 60, tz=UTC)

    def ready_lines(self, steps: tuple[Step, ...], pace: Pace) -> Line:
        """For a release at each minute of the stretch the minute at which all steps are done."""
        arrivals = np.arange(len(self.clock), dtype=np.int64)
        done: dict[str, Line] = {}
        ready = arrivals
        for step in steps:
            begin = arrivals
            for name in step.after:
                begin = np.maximum(begin, done[name])
            least = min(step.least_minutes, step.usual_minutes)
            out = self.out_line(step, step.usual_minutes if pace is Pace.USUAL else least)
            done[step.name] = look_up(out, begin)
            ready = np.maximum(ready, done[step.name])
        return ready

    def ready_from_step(self, steps: tuple[Step, ...], at_step: str, since: int, now: int) -> int:
        """The minute at which a set is ready that is at a step at ``now`` and has been since a minute.

        All that the step waits for is over. It began at ``since`` come what may; what stands
        beside it and waits for nothing else began with it, if its station let it. Nothing that
        waits for a step that is still to end can have begun before ``now``.
        """
        over = waited_for(steps, at_step)
        ends: dict[str, int] = {}
        for step in steps:
            if step.name in over:
                continue
            waits = [name for name in step.after if name not in over]
            arrives = max(now, *(ends[name] for name in waits)) if waits else since
            end = self.taken_out(step, arrives) if step.name == at_step else self.out_at(step, arrives)
            if not waits and step.name != at_step and self.begin_at(step, since) > now:
                end = self.out_at(step, now)
            ends[step.name] = max(now, end)
        return max(ends.values())

    def begin_at(self, step: Step, arrives: int) -> int:
        """The minute at which a step begins for an arrival."""
        return int(next_mark(self.can_begin(step, step.usual_minutes))[arrives])

    def out_at(self, step: Step, arrives: int) -> int:
        """The minute at which a step is done for an arrival."""
        return NEVER if arrives >= NEVER else int(self.out_line(step, step.usual_minutes)[arrives])

    def taken_out(self, step: Step, begins: int) -> int:
        """The minute at which somebody takes out what began at a minute."""
        done = begins + step.usual_minutes
        return int(next_mark(self.staffed(step.station))[done]) if self.stays_over(step) else done

    def out_line(self, step: Step, minutes: int) -> Line:
        """For an arrival at each minute the minute at which the step is done and the set can be taken on."""
        begins = next_mark(self.can_begin(step, minutes))
        done = np.where(begins < NEVER, begins + minutes, NEVER)
        return look_up(next_mark(self.staffed(step.station)), done) if self.stays_over(step) else done

    def can_begin(self, step: Step, minutes: int) -> Marks:
        """At which minutes the step may begin: somebody is there and, unless it may run past closing, stays."""
        length = len(self.clock)
        if minutes == 0:
            return self.starts(step) & self.staffed(step.station)
        open_now = self.open_minutes(step.station)
        if self.stays_over(step):
            return self.starts(step) & open_now
        closed_so_far = np.concatenate([[0], np.cumsum(~open_now)])
        last = np.minimum(np.arange(length) + minutes, length)
        stays_open: Marks = closed_so_far[last] == closed_so_far[np.arange(length)]
        return self.starts(step) & stays_open

    def staffed(self, station: str) -> Marks:
        """At which minutes somebody is there to take a thing out; the minute of closing is the last."""
        there = self.open_minutes(station).copy()
        there[1:] |= there[:-1].copy()
        return there

    def stays_over(self, step: Step) -> bool:
        """Whether the step may run past closing."""
        known = self.site.stations.get(step.station)
        return known is not None and known.past_closing and not step.run

    def has_door(self, station: str) -> bool:
        """Whether anything is known of when the station is closed."""
        named = any(period.station == station for period in self.site.hours)
        return bool(station) and (named or any(day.station in ("", station) for day in self.site.holidays))

    def open_minutes(self, station: str) -> Marks:
        """At which minutes the station works."""
        if not self.has_door(station):
            return np.ones(len(self.clock), dtype=np.bool_)
        working = np.zeros(len(self.clock), dtype=np.bool_)
        periods = [period for period in self.site.hours if period.station == station]
        named = bool(periods)
        for day in self.days_of(station):
            if not named:
                working[self.when_shown(day * DAY) : self.when_shown((day + 1) * DAY)] = True
            for period in periods:
                if (day + 6) % 7 == period.weekday:
                    begins, ends = shift_of(period)
                    working[self.when_shown(day * DAY + begins) : self.when_shown(day * DAY + ends)] = True
        return working

    def starts(self, step: Step) -> Marks:
        """At which minutes the step may begin by fixed starts or departures, whoever is there."""
        known = self.site.stations.get(step.station)
        marks = np.zeros(len(self.clock), dtype=np.bool_)
        if step.run:
            for day in self.days_of(step.run):
                leaving = [
                    one.leaves for one in self.site.departures if one.run == step.run and one.weekday == (day + 6) % 7
                ]
                self.mark(marks, day, [one.hour * 60 + one.minute for one in leaving])
        elif known is not None and known.start_times:
            for day in self.all_days():
                self.mark(marks, day, [one.hour * 60 + one.minute for one in known.start_times])
        elif known is not None and known.start_every > 1:
            marks = self.clock % DAY % known.start_every == 0
        else:
            marks[:] = True
        return marks

    def mark(self, marks: Marks, day: int, walls: list[int]) -> None:
        """Mark the minutes at which the clock first shows these times of a day."""
        for wall in walls:
            at = self.when_shown(day * DAY + wall)
            if 0 < at < len(marks):
                marks[at] = True

    def when_shown(self, shown: int) -> int:
        """The first minute at which the clock shows this or later."""
        return int(np.searchsorted(self._highest, shown))

    def all_days(self) -> range:
        return range(int(self.clock[0]) // DAY - 1, int(self.clock[-1]) // DAY + 1)

    def days_of(self, name: str) -> list[int]:
        """The days on which a station or run works at all."""
        off = {one.day.toordinal() for one in self.site.holidays if one.station in ("", name)}
        return [day for day in self.all_days() if day not in off]


def waited_for(steps: tuple[Step, ...], name: str) -> set[str]:
    """The names of the steps that must be over before a step begins."""
    found: set[str] = set()
    for step in reversed(steps):
        if step.name == name or step.name in found:
            found |= set(step.after)
    return found


def shift_of(period: WorkPeriod) -> tuple[int, int]:
    """Opening and closing in minutes since the midnight before the opening."""
    begins = period.opens.hour * 60 + period.opens.minute
    ends = period.closes.hour * 60 + period.closes.minute
    return begins, ends if ends > begins else ends + DAY


def next_mark(marks: Marks) -> Line:
    """For each minute the first marked one at or after it."""
    line = np.where(marks, np.arange(len(marks)), NEVER)
    return np.minimum.accumulate(line[::-1])[::-1]


def look_up(line: Line, minutes: Line) -> Line:
    """The line's value at each of the minutes; NEVER beyond the stretch."""
    inside = minutes < len(line)
    return np.where(inside, line[np.where(inside, minutes, 0)], NEVER)
