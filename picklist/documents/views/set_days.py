"""Each set's way through the department drawn against its deadline, all to one scale of time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from picklist.clock import SiteClock, shift
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.view import View
from picklist.model.department import SetRun

EDGE = 15  # minutes of white at either end
MOST_TICKS = {24: 12, 12: 8}  # by the hours of the clock: am and pm take room


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """A stretch of time as the width of a drawing."""

    begins: datetime
    ends: datetime

    def _at(self, instant: datetime) -> float:
        part = (instant - self.begins) / max(self.ends - self.begins, timedelta(minutes=1))
        return min(max(part, 0.0), 1.0)

    def share(self, instant: datetime) -> float:
        """Where an instant is, as a share of the width; beyond the ends, at the nearer end."""
        return round(self._at(instant), 4)

    def per_cent(self, instant: datetime, digits: int) -> float:
        """The same in per cent."""
        return round(100 * self._at(instant), digits)

    def ticks(self, clock: SiteClock, most: int) -> tuple[tuple[float, str], ...]:
        """Whole hours of the wall clock, thinned so that no more than ``most`` stand there."""
        first = clock.wall(self.begins)
        past = timedelta(minutes=first.minute, seconds=first.second, microseconds=first.microsecond)
        moment, hours = self.begins - past + timedelta(hours=1), []
        while moment <= self.ends:
            hours.append(moment)
            moment += timedelta(hours=1)
        every = max(1, -(-len(hours) // most))
        return tuple((self.share(one), clock.hhmm(one)) for one in hours[::every])


class SetDay(View):
    """One set: stretches of (begins, length, ``work`` or ``wait``), and where it is due."""

    def __init__(self, scale: Scale, run: SetRun, due: datetime) -> None:
        self.set_id = run.set_id
        self.bars = _bars(scale, run)
        self.due = scale.share(due)


class SetDays(View):
    """The runs that are due over one scale; none gives an empty drawing."""

    def __init__(self, found: Lookup, runs: Sequence[SetRun]) -> None:
        due = [(run, run.due) for run in runs if run.due]
        begins = min((run.released for run, _ in due), default=found.plan.now)
        ends = max((max(run.ready, when) for run, when in due), default=found.plan.now)
        scale = Scale(begins=shift(begins, -EDGE), ends=shift(ends, EDGE))
        self.ticks = scale.ticks(found.clock, most_ticks(found.clock)) if due else ()
        self.rows = tuple(SetDay(scale, run, when) for run, when in due)


def most_ticks(clock: SiteClock) -> int:
    """How many times can stand beneath a drawing over the whole width of a page."""
    return MOST_TICKS[clock.hours]


def _bars(scale: Scale, run: SetRun) -> tuple[tuple[float, float, str], ...]:
    """Waiting and working stretches of a run, in order; none of no length."""
    stretches = []
    for step in run.steps:
        stretches += [(step.arrives, step.begins, "wait"), (step.begins, step.ends, "work")]
    drawn = [(scale.share(begins), scale.share(ends), kind) for begins, ends, kind in stretches]
    return tuple((begins, round(ends - begins, 4), kind) for begins, ends, kind in drawn if ends > begins)
