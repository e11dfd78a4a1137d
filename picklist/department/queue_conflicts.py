"""Find conflicts that exist only because of queues: in time alone, late among all the others."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime

from picklist.clock import SiteClock
from picklist.department.best_run import SameRun
from picklist.model.conflicts import Cluster, Conflict, ConflictKind, each_conflict
from picklist.model.department import DepartmentRun, SetRun, headline
from picklist.model.site import Site
from picklist.model.uses import Assignment, Pace, Reuse, Use
from picklist.sets.calendar import minute_from
from picklist.wording.queues import lost_in_queues, queue_statement, relief


def queue_conflicts(
    run: DepartmentRun, reuses: Sequence[Reuse], assignments: Iterable[Assignment], clock: SiteClock
) -> tuple[Conflict, ...]:
    """Find each reuse that is in time with the department to itself but not in the run; by need, then set.

    Alone means by the minutes of the run (see ``jobs``). So a reuse that is a rush by usual minutes
    and still late in the run is named too: that rush cannot be promised.
    """
    ways = run.by_wait()
    uses = {one.use.key: one.use for one in assignments}
    found = []
    for reuse in sorted(reuses, key=lambda one: (one.needed, one.set_id, one.waiter)):
        way = ways.get((reuse.set_id, reuse.waiter))
        if way is not None and way.late > 0 and way.due is not None and way.alone_ready <= way.due:
            found.append(_make_conflict(reuse, uses[reuse.waiter_use], way, blamed_station(run, way), clock))
    return tuple(found)


def say_queue_times(clusters: Iterable[Cluster], run: DepartmentRun, reuses: Iterable[Reuse]) -> tuple[Cluster, ...]:
    """The clusters with, in each conflict about a set that the queue makes later, when it is then ready."""
    ways = run.by_wait()
    ready = {(one.set_id, one.waiter): headline(one, ways.get((one.set_id, one.waiter))) for one in reuses}

    def said(one: Conflict) -> Conflict:
        late = ready.get((one.set_id, one.waiter))
        if late is None or late.pace is not Pace.QUEUE or one.kind is ConflictKind.QUEUE:
            return one
        return replace(one, facts=replace(one.facts, in_queue=late)) if one.facts else one

    return each_conflict(clusters, said)


def blamed_station(run: DepartmentRun, way: SetRun) -> str:
    """The station in whose queue the set lost most minutes; of equals the first by name.

    A set that lost nothing on this way came back late from a case that waited for it: its way
    before is to blame then. Empty when no queue is.
    """
    lost = queues_of(way)
    if lost:
        return min(lost, key=lambda name: (-lost[name], name))
    before = [one for one in run.runs if one.set_id == way.set_id and one.released < way.released]
    return blamed_station(run, max(before, key=lambda one: one.released)) if before else ""


def queues_of(way: SetRun) -> dict[str, int]:
    """Minutes that a set lost at each station to other sets, in the order of its route."""
    lost: dict[str, int] = {}
    for step in way.steps:
        if step.station and step.queued > 0:
            lost[step.station] = lost.get(step.station, 0) + step.queued
    return lost


def add_relief(
    conflicts: Sequence[Conflict], site: Site, assignments: Sequence[Assignment], now: datetime, run: DepartmentRun
) -> tuple[Conflict, ...]:
    """Add what one more machine or person at the station to blame would do, by a run with it."""
    blamed = sorted({one.blame for one in conflicts if one.blame in site.stations})
    if not blamed:
        return tuple(conflicts)
    again = SameRun(site, assignments, now, run)
    relieved = {name: again.with_stations(with_one_more(site, name).stations) for name in blamed}
    due = {key: way.due for key, way in run.by_wait().items()}

    def relieve(one: Conflict) -> Conflict:
        key = (one.set_id, one.waiter)
        then, needed = relieved.get(one.blame, {}).get(key), due.get(key)
        if then is None or needed is None:
            return one
        late = max(0, then.ready - minute_from(needed))
        return replace(one, missing=f"{one.missing}; {relief(one.blame, late)}")

    return tuple(relieve(one) for one in conflicts)


def with_one_more(site: Site, name: str) -> Site:
    """The site with one more machine (or person) at a station."""
    station = site.stations[name]
    return replace(site, stations={**site.stations, name: replace(station, machines=station.machines + 1)})


def _make_conflict(reuse: Reuse, use: Use, way: SetRun, station: str, clock: SiteClock) -> Conflict:
    return Conflict(
        id=f"queue {reuse.set_id} {reuse.waiter}",
        kind=ConflictKind.QUEUE,
        tray=reuse.tray,
        waiter=reuse.waiter,
        copy=use.copy,
        side=use.side,
        asked=use.tray if use.tray != reuse.tray else "",
        givers=(reuse.giver,) if reuse.giver else (),
        set_id=reuse.set_id,
        minutes=way.late,
        statement=queue_statement(reuse, way, station, clock),
        decide_by=way.released,
        depends_on=station,
        missing=lost_in_queues(queues_of(way)),
        blame=station,
    )
