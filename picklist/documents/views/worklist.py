"""Each station's worklist: the loads to put together, in the order to start them, and what runs already."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from picklist import wording
from picklist.documents.views.finished_words import Group, View
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.stamp import stamp_for
from picklist.documents.views.tray_rows import take_first
from picklist.grouping import grouped
from picklist.letters import natural_key
from picklist.model.conflicts import Conflict, ConflictKind
from picklist.model.department import DepartmentRun, Load, SetRun
from picklist.model.uses import Pace, Reuse, start_of
from picklist.wording.say_department import list_ends

LATE = "LATE: it starts after its latest start; tell the coordinator."

Members = dict[str, list[SetRun]]  # the sets of each load, each on its way
Hurries = dict[tuple[str, str], list["Hurry"]]  # by set and the case that gives it


class Moment(View):
    """A time in a narrow column: its day where that is not the day of its group, and ``–`` for none."""

    def __init__(self, found: Lookup, instant: datetime | None, load: Load) -> None:
        day = found.clock.day(instant or load.begins)
        self.day = wording.short_day(day) if day != found.clock.day(load.begins) else ""
        self.time = found.clock.hhmm(instant) if instant else wording.NONE


class LoadRow(View):
    """One load: when it starts in which machine, what goes in, and by when it must start.

    ``latest`` is the earliest of the latest starts of its sets, by usual minutes; ``late`` says
    that the queue starts it after that. ``hurries``: its sets that must be hurried, with for whom.
    """

    def __init__(self, found: Lookup, load: Load, members: Members, hurries: Hurries) -> None:
        latest = min((at for one in members.get(load.id, ()) for at in _latest(found, one, load)), default=None)
        self.begins = found.clock.hhmm(load.begins)
        self.ends = found.clock.hhmm(load.ends)
        self.ends_day = wording.short_day(found.clock.day(load.ends))
        self.machine = str(load.machine)
        self.cycle = load.cycle
        self.sets = load.sets
        self.latest = Moment(found, latest, load)
        self.late = latest is not None and load.begins > latest
        self.first_due = Moment(found, load.first_due, load)
        runs = members.get(load.id, ())
        self.hurries = tuple(one for run in runs for one in hurries.get((run.set_id, run.from_case), ()))


class LoadGroup(Group[LoadRow]):
    """Loads of one station: those that run at printing, or those of one day in the order to start them."""

    def __init__(self, station: str, runs: bool, day: str, rows: Iterable[LoadRow]) -> None:
        super().__init__("Running when printed" if runs else day, rows)
        self.station = station
        self.day = day
        self.runs = runs


class WorklistView(View):
    """A page or more for each station, to hang up beside it: the loads from now until the day is over.

    None where the department was not run forwards. What starts after midnight is on the next day's worklist, which
    is printed before that; ``ends`` says so.
    """

    def __init__(self, found: Lookup) -> None:
        run = found.plan.department
        groups = load_groups(found, run) if run else ()
        stations = grouped((group.station, group) for group in groups)
        self.stamp = stamp_for(found.plan)
        self.title = f"Worklist, {found.clock.day_text(found.day)}"
        self.counts = _counts(groups, len(stations))
        self.rule = f"Served by: {run.rule}. {LATE}" if run else ""
        self.ends = _ends(found, run) if run else ""
        self.stations = tuple(stations.items())


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
    members, hurries = _members(run), _hurries(found)
    groups = grouped(
        (
            (one.station, one.begins < found.plan.now, wording.short_day(found.clock.day(one.begins))),
            LoadRow(found, one, members, hurries),
        )
        for one in coming
    )
    return tuple(LoadGroup(station, runs, day, rows) for (station, runs, day), rows in groups.items())


def _members(run: DepartmentRun) -> Members:
    return grouped((step.load, one) for one in run.runs for step in one.steps if step.load)


class Hurry(View):
    """A set that must be hurried: ``word`` is the kind of its conflict."""

    def __init__(self, conflict: Conflict, text: str) -> None:
        self.word = conflict.kind.value.upper()
        self.text = text


def _hurries(found: Lookup) -> Hurries:
    """The sets that are in time only in a rush, and those without which a case has none."""
    pairs = []
    for one in found.conflicts.values():
        way, reuse = found.runs.get((one.set_id, one.waiter)), found.reuses.get((one.set_id, one.waiter))
        if one.kind is ConflictKind.RUSH and way and reuse:
            pairs.append(((way.set_id, way.from_case), Hurry(one, _rush(found, way, reuse))))
        elif one.awaited:
            text = f"{one.set_id} {take_first(found, one.waiter)}"
            pairs.append(((one.set_id, one.awaited.case), Hurry(one, text)))
    return grouped(pairs)


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
