"""The department's worklist in order, when each set is ready, and each station's load over the day."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby

from picklist.documents.views import words
from picklist.documents.views.lookup import Lookup
from picklist.model.department import DepartmentRun, Load, SetRun, StationHour


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadRow:
    """One load: when it starts in which machine, and what goes in."""

    begins: str
    ends: str
    machine: str
    cycle: str
    sets: tuple[str, ...]
    first_due: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RunRow:
    """One set's way: in, ready, due, and where it waited."""

    received: str
    set_id: str
    tray: str
    source: str
    target: str
    ready: str
    due: str
    late: str
    waited: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadPlot:
    """A station's day as bars: shares of width, and of the tallest bar; ``busy`` solid, ``waiting`` hatched."""

    station: str
    peak: str
    ticks: tuple[tuple[float, str], ...]
    bars: tuple[tuple[float, float, float, float], ...]  # begins, width, busy, waiting
    tallest: str


def load_rows(found: Lookup, run: DepartmentRun) -> tuple[LoadRow, ...]:
    """Loads in the order to start them."""
    ordered = sorted(run.loads, key=lambda one: (one.begins, words.as_people_read(one.station), one.machine))
    return tuple(_load(found, one) for one in ordered if found.clock.day(one.ends) >= found.day)


def _load(found: Lookup, load: Load) -> LoadRow:
    return LoadRow(
        begins=found.when(load.begins),
        ends=found.when(load.ends),
        machine=f"{load.station} {load.machine}",
        cycle=load.cycle,
        sets=load.sets,
        first_due=found.when(load.first_due),
    )


def run_rows(found: Lookup, run: DepartmentRun) -> tuple[RunRow, ...]:
    """Sets in the order in which they are due, then those that nothing waits for."""

    def key(one: SetRun) -> tuple[bool, float, object]:
        return (one.due is None, (one.due or one.ready).timestamp(), words.as_people_read(one.set_id))

    return tuple(_run(found, one) for one in sorted(run.runs, key=key) if found.clock.day(one.ready) >= found.day)


def _run(found: Lookup, run: SetRun) -> RunRow:
    waits = [f"{one.waited} min for {one.waited_for}" for one in run.steps if one.waited]
    return RunRow(
        received=found.when(run.released),
        set_id=run.set_id,
        tray=found.tray(run.tray),
        source=found.case_in_room(run.from_case) if run.from_case else "",
        target=found.case_in_room(run.for_case) if run.for_case else "",
        ready=found.when(run.ready),
        due=found.when(run.due),
        late=f"{words.span(run.late)} late" if run.late else "",
        waited="; ".join(waits),
    )


def load_plots(found: Lookup, run: DepartmentRun) -> tuple[LoadPlot, ...]:
    """A plot for each station over the plan's day, all to one scale of time."""
    hours = [one for one in run.hours if found.clock.day(one.begins) == found.day]
    if not hours:
        return ()
    first, last = min(one.begins for one in hours), max(one.begins for one in hours)
    length = (last - first).total_seconds() + 15 * 60
    ordered = sorted(hours, key=lambda one: (words.as_people_read(one.station), one.begins))

    def share(hour: StationHour) -> float:
        return round((hour.begins - first).total_seconds() / length, 4)

    plots = []
    for station, some in groupby(ordered, key=lambda one: one.station):
        own = list(some)
        if any(one.busy or one.waiting for one in own):
            plots.append(_plot(found, station, [(share(one), one) for one in own], round(15 * 60 / length, 4)))
    return tuple(plots)


def _plot(found: Lookup, station: str, hours: list[tuple[float, StationHour]], width: float) -> LoadPlot:
    tallest = max(one.busy + one.waiting for _, one in hours)
    peak = max((one for _, one in hours), key=lambda one: (one.waiting, one.busy))
    whole = [(at, one) for at, one in hours if found.clock.wall(one.begins).minute == 0]
    return LoadPlot(
        station=station,
        peak=f"most waiting: {peak.waiting} at {found.when(peak.begins)}" if peak.waiting else "no queue",
        ticks=tuple((at, found.clock.hhmm(one.begins)) for at, one in whole[:: max(1, -(-len(whole) // 12))]),
        bars=tuple((at, width, round(one.busy / tallest, 4), round(one.waiting / tallest, 4)) for at, one in hours),
        tallest=f"{tallest:g}",
    )
