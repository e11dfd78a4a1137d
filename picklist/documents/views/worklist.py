"""Each station's worklist: the loads to put together, in the order to start them, and what runs already."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from picklist import wording
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.stamp import PageFoot, printing_of, stamp_for
from picklist.letters import natural_key
from picklist.model.conflicts import ConflictKind
from picklist.model.department import DepartmentRun, Load, SetRun
from picklist.model.uses import Pace, Reuse, start_of
from picklist.wording.say_department import list_ends

LATE = "LATE: it starts after its latest start; tell the coordinator."

Members = dict[str, list[SetRun]]  # the sets of each load, each on its way


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """A time in a narrow column: its day where that is not the day of its group, and ``–`` for none."""

    day: str
    time: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadRow:
    """One load: when it starts in which machine, what goes in, and by when it must start.

    ``latest`` is the earliest of the latest starts of its sets, by usual minutes; ``late`` says
    that the queue starts it after that. ``rushes``: sets in it that must be hurried, with when each is ready.
    """

    begins: str
    ends: str
    ends_day: str
    machine: str
    cycle: str
    sets: tuple[str, ...]
    latest: Moment
    late: bool
    first_due: Moment
    rushes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadGroup:
    """Loads of one station: those that run at printing, or those of one day in the order to start them."""

    station: str
    title: str
    day: str
    runs: bool
    rows: tuple[LoadRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WorklistView:
    """A page or more for each station, to hang up beside it."""

    stamp: PageFoot
    title: str
    counts: str
    rule: str
    ends: str  # where the loads are that start after this list ends
    stations: tuple[tuple[str, tuple[LoadGroup, ...]], ...]


def worklist(found: Lookup) -> WorklistView:
    """The loads from now until the day is over, by station; none where the department was not run forwards.

    What starts after midnight is on the next day's worklist, which is printed before that.
    """
    run = found.plan.department
    groups = load_groups(found, run) if run else ()
    stations = dict.fromkeys(group.station for group in groups)
    return WorklistView(
        stamp=stamp_for(found.plan, printing_of(found.plan), found.clock),
        title=f"Worklist, {found.clock.day_text(found.day)}",
        counts=_counts(groups, len(stations)),
        rule=f"Served by: {run.rule}. {LATE}" if run else "",
        ends=_ends(found, run) if run else "",
        stations=tuple((one, tuple(group for group in groups if group.station == one)) for one in stations),
    )


def _ends(found: Lookup, run: DepartmentRun) -> str:
    later = sum(found.clock.day(one.begins) > found.day for one in run.loads)
    return list_ends(found.day, later)


def _counts(groups: tuple[LoadGroup, ...], stations: int) -> str:
    running = sum(len(group.rows) for group in groups if group.runs)
    to_start = sum(len(group.rows) for group in groups if not group.runs)
    already = f", {running} running when printed" if running else ""
    return f"{wording.counted(to_start, 'load')} to start{already}, at {wording.counted(stations, 'station')}"


def load_groups(found: Lookup, run: DepartmentRun) -> tuple[LoadGroup, ...]:
    """Each station's loads from now until the day is over, stations by their first load."""
    coming = [one for one in run.loads if one.ends > found.plan.now and found.clock.day(one.begins) <= found.day]
    coming.sort(key=lambda one: (one.begins, natural_key(one.station), one.machine))
    order = list(dict.fromkeys(one.station for one in coming))
    coming.sort(key=lambda one: order.index(one.station))
    members = _members(run)
    groups: dict[tuple[str, bool, str], list[LoadRow]] = {}
    for one in coming:
        runs = one.begins < found.plan.now
        day = wording.short_day(found.clock.day(one.begins))
        groups.setdefault((one.station, runs, day), []).append(_load(found, one, members))
    return tuple(
        LoadGroup(station=station, title="Running when printed" if runs else day, day=day, runs=runs, rows=tuple(rows))
        for (station, runs, day), rows in groups.items()
    )


def _members(run: DepartmentRun) -> Members:
    members: Members = {}
    for one in run.runs:
        for step in one.steps:
            if step.load:
                members.setdefault(step.load, []).append(one)
    return members


def _load(found: Lookup, load: Load, members: Members) -> LoadRow:
    latest = min((at for one in members.get(load.id, ()) for at in _latest(found, one, load)), default=None)
    return LoadRow(
        begins=found.clock.hhmm(load.begins),
        ends=found.clock.hhmm(load.ends),
        ends_day=wording.short_day(found.clock.day(load.ends)),
        machine=str(load.machine),
        cycle=load.cycle,
        sets=load.sets,
        latest=_moment(found, latest, load),
        late=latest is not None and load.begins > latest,
        first_due=_moment(found, load.first_due, load),
        rushes=tuple(_rush(found, one, reuse) for one, reuse in _rushed(found, members.get(load.id, ()))),
    )


def _rushed(found: Lookup, runs: Iterable[SetRun]) -> list[tuple[SetRun, Reuse]]:
    """The sets that are in time only in a rush."""
    hurried = {(one.set_id, one.waiter) for one in found.conflicts.values() if one.kind is ConflictKind.RUSH}
    keys = [(one, (one.set_id, one.for_case)) for one in runs]
    return [(one, found.reuses[key]) for one, key in keys if key in hurried and key in found.reuses]


def _rush(found: Lookup, run: SetRun, reuse: Reuse) -> str:
    """``THY-01 for C-4112 by 13:35: ready 13:45 at usual pace, 13:10 in today's queue``."""
    ready = found.headline(reuse)
    queue = "" if ready.pace is Pace.QUEUE else f", {wording.at_pace(found.when(run.ready), Pace.QUEUE)}"
    return f"{run.set_id} for {reuse.waiter} by {found.when(reuse.needed)}: ready {found.ready(reuse)}{queue}"


def _latest(found: Lookup, run: SetRun, load: Load) -> list[datetime]:
    """By when a set must start in a load, as the department's sheet says it; nothing where no case waits for it."""
    reuse = found.reuses.get((run.set_id, run.for_case))
    acts = {start_of(step.step) for step in run.steps if step.load == load.id}
    return [one.latest for one in reuse.deadlines if one.act in acts] if reuse else []


def _moment(found: Lookup, instant: datetime | None, load: Load) -> Moment:
    if instant is None:
        return Moment(day="", time=wording.NONE)
    day = found.clock.day(instant)
    other = day != found.clock.day(load.begins)
    return Moment(day=wording.short_day(day) if other else "", time=found.clock.hhmm(instant))
