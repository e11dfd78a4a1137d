"""When each set is ready, its way drawn against its deadline, and each station's load over the day."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime

from picklist import wording
from picklist.clock import shift
from picklist.documents.views.finished_words import View
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.scale import Bar, Scale
from picklist.grouping import grouped
from picklist.letters import natural_key
from picklist.model.department import DepartmentRun, SetRun, StationHour, headline
from picklist.model.uses import Pace
from picklist.wording.say_department import waiting

QUARTER = 15  # minutes of one bar
EDGE = 15  # minutes of white at either end


class RunRow(View):
    """One set's way: in, ready as every paper says it and in today's queue, due, and where it waited."""

    def __init__(self, found: Lookup, run: SetRun) -> None:
        reuse = found.reuses.get((run.set_id, run.for_case))
        ready = headline(reuse, run)
        self.received = found.when(run.received)
        self.set_id = run.set_id
        self.tray = found.tray(run.tray)
        self.source = found.case_in_room(run.from_case) if run.from_case else ""
        self.target = found.case_in_room(run.for_case) if run.for_case else ""
        self.ready = wording.at_pace(found.when(ready.at), ready.pace)
        self.in_queue = "" if ready.pace is Pace.QUEUE else wording.at_pace(found.when(run.ready), Pace.QUEUE)
        self.due = found.when(run.due)
        self.late = wording.to_spare(ready.slack) if ready.slack < 0 else ""
        self.waited = "; ".join(waiting(one, found.clock) for one in run.steps if one.waited)


class SetDay(View):
    """One set: where it waits and where it is worked on, and where it is due."""

    def __init__(self, scale: Scale, run: SetRun, due: datetime) -> None:
        self.set_id = run.set_id
        bars = (
            bar
            for one in run.steps
            for bar in (Bar(scale, one.arrives, one.begins, "wait"), Bar(scale, one.begins, one.ends, "work"))
        )
        self.bars = tuple(bar for bar in bars if bar.length > 0)
        self.due = scale.share(due)


class SetDays(View):
    """The runs that are due over one scale; none gives an empty drawing."""

    def __init__(self, found: Lookup, runs: Sequence[SetRun]) -> None:
        due = [(run, run.due) for run in runs if run.due]
        begins = min((run.released for run, _ in due), default=found.plan.now)
        ends = max((max(run.ready, when) for run, when in due), default=found.plan.now)
        scale = Scale(begins=shift(begins, -EDGE), ends=shift(ends, EDGE))
        self.ticks = scale.ticks(found.clock) if due else ()
        self.rows = tuple(SetDay(scale, run, when) for run, when in due)


class LoadBar(View):
    """A quarter of an hour at a station: what is busy and what waits, as shares of the tallest bar."""

    def __init__(self, one: StationHour, scale: Scale, tallest: float) -> None:
        self.begins = scale.share(one.begins)
        self.length = round(scale.share(shift(one.begins, QUARTER)) - self.begins, 4)
        self.busy = round(one.busy / tallest, 4)
        self.waiting = round(one.waiting / tallest, 4)


class LoadPlot(View):
    """A station's day as bars."""

    def __init__(self, found: Lookup, hours: list[StationHour], scale: Scale) -> None:
        tallest = max(one.busy + one.waiting for one in hours)
        peak = max(hours, key=lambda one: (one.waiting, one.busy))
        self.station = peak.station
        self.peak = f"longest queue: {peak.waiting} at {found.when(peak.begins)}" if peak.waiting else "no queue"
        self.ticks = scale.ticks(found.clock)
        self.bars = tuple(LoadBar(one, scale, tallest) for one in hours)
        self.tallest = f"{round(tallest, 1):g}"


def runs_to_watch(found: Lookup) -> tuple[SetRun, ...]:
    """Sets for the carts of the day, and those that come late for any, by when they are due."""
    runs = [one for one in _coming(found) if one.due and (one.late or found.clock.day(one.due) <= found.day)]
    return tuple(sorted(runs, key=lambda one: (one.due or one.ready, natural_key(one.set_id))))


def in_time(found: Lookup) -> str:
    """How many more sets of the day are ready in time for later days, or are waited for by nobody."""
    rest = len(_coming(found)) - len(runs_to_watch(found))
    return f"{wording.counted(rest, 'more set')} of the day: ready in time." if rest else ""


def _coming(found: Lookup) -> list[SetRun]:
    runs = found.plan.department.runs if found.plan.department else ()
    return [one for one in runs if one.ready > found.plan.now and _of_the_day(found, one)]


def _of_the_day(found: Lookup, run: SetRun) -> bool:
    """Whether a set is free by the end of the day, or comes after midnight from a case of the day."""
    giver = found.cases.get(run.from_case)
    return found.clock.day(run.released) <= found.day or (giver is not None and giver.day <= found.day)


def load_plots(found: Lookup, run: DepartmentRun) -> tuple[LoadPlot, ...]:
    """A plot for each station over the plan's day, all to one scale of time."""
    hours = [one for one in run.hours if found.clock.day(one.begins) == found.day]
    at_work = [one.begins for one in hours if one.busy or one.waiting]
    if not at_work:
        return ()
    scale = Scale(begins=min(at_work), ends=shift(max(at_work), QUARTER))
    hours = [one for one in hours if scale.begins <= one.begins < scale.ends]
    return tuple(LoadPlot(found, own, scale) for own in by_station(hours))


def by_station(hours: Iterable[StationHour]) -> list[list[StationHour]]:
    """The hours of each station with any load in them, by the station's name."""
    ordered = sorted(hours, key=lambda one: (natural_key(one.station), one.station, one.begins))
    stations = grouped((one.station, one) for one in ordered)
    return [own for own in stations.values() if any(one.busy or one.waiting for one in own)]
