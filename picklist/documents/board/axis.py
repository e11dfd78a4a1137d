"""The board's scale of time: from the evening before to the end of the day, in per cent of the width."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from picklist import wording
from picklist.clock import SiteClock, shift
from picklist.documents.views.finished_words import View
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.scale import Scale

EVENING = time(18, 0)  # of the day before: nothing earlier is drawn
NEXT_NOON = time(12, 0)  # of the day after: nothing later is drawn
EDGE = 60  # minutes of white around the day's cases
HOUR = timedelta(hours=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis(Scale):
    """The stretch that is drawn; ``day_from`` and ``day_to`` hold the day's cases between them."""

    clock: SiteClock
    day: date
    day_from: datetime
    day_to: datetime

    @property
    def hours(self) -> float:
        """The length in hours."""
        return (self.ends - self.begins) / HOUR

    def at(self, instant: datetime) -> float:
        """Where an instant is, in per cent of the width; beyond either end at that end."""
        return self.per_cent(instant, 2)

    def shows(self, begins: datetime, ends: datetime) -> bool:
        """Whether any of a stretch of time is on the board."""
        return begins < self.ends and ends > self.begins

    def holds(self, instant: datetime) -> bool:
        """Whether an instant is on the board."""
        return self.begins <= instant <= self.ends

    def minute(self, instant: datetime) -> int:
        """Minutes from the left edge, for the filter of time; negative before it."""
        return int((instant - self.begins).total_seconds() // 60)


class Tick(View):
    """A whole hour; ``day`` is named at midnight and at the left edge."""

    def __init__(self, axis: Axis, moment: datetime, *, first: bool) -> None:
        wall = axis.clock.wall(moment)
        self.at = axis.at(moment)
        self.text = axis.clock.hhmm(moment)
        self.day = wording.short_day(wall.date()) if first or wall.hour == 0 else ""
        self.minute = axis.minute(moment)


def axis_of(found: Lookup) -> Axis:
    """The scale of a plan: from now, or the evening before the day, to the last thing of the day's cases."""
    settings, clock, day = found.plan.settings, found.clock, found.day
    dues = [cart.complete_by for cart in found.plan.carts] or [clock.at_or_after(day, time(7))]
    lasts = [shift(one.complete_by, settings.setup_lead + one.case.minutes) for one in found.plan.carts] or dues
    first = _floor(clock, shift(min(dues), -EDGE))
    last = _ceiling(clock, shift(max(lasts), EDGE))
    evening = clock.at_or_after(day - timedelta(days=1), EVENING)
    begins = min(max(_floor(clock, found.plan.now), evening), first)
    limit = max(clock.at_or_after(day + timedelta(days=1), NEXT_NOON), last)
    ends = min(max(_ceiling(clock, _last_ready(found, lasts)), last), limit)
    return Axis(clock=clock, day=day, begins=begins, ends=ends, day_from=first, day_to=last)


def _last_ready(found: Lookup, lasts: Iterable[datetime]) -> datetime:
    """When the last set in trouble is ready again, or the last case ends."""
    troubled = {one.tray for one in found.plan.conflicts}
    runs = found.plan.department.runs if found.plan.department else ()
    on_day = [run.ready for run in runs if run.tray in troubled and found.clock.day(run.released) == found.day]
    return max([*lasts, *on_day])


def ticks_of(axis: Axis) -> tuple[Tick, ...]:
    """The whole hours of the wall clock."""
    made: list[Tick] = []
    moment = _ceiling(axis.clock, axis.begins)
    while moment <= axis.ends:
        made.append(Tick(axis, moment, first=not made))
        moment += HOUR
    return tuple(made)


def lanes(stretches: Iterable[tuple[datetime, datetime]]) -> tuple[int, ...]:
    """The lowest free lane of each stretch, given in order of their beginnings."""
    free_from: list[datetime] = []
    taken = []
    for begins, ends in stretches:
        lane = next((n for n, free in enumerate(free_from) if free <= begins), len(free_from))
        free_from[lane : lane + 1] = [ends]
        taken.append(lane)
    return tuple(taken)


def _floor(clock: SiteClock, instant: datetime) -> datetime:
    wall = clock.wall(instant)
    return instant - timedelta(minutes=wall.minute, seconds=wall.second, microseconds=wall.microsecond)


def _ceiling(clock: SiteClock, instant: datetime) -> datetime:
    floor = _floor(clock, instant)
    return floor if floor == instant else floor + HOUR
