"""Conflicts that exist only because of the load: in time alone, late among all the others."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from picklist.clock import SiteClock
from picklist.model.conflicts import Conflict, ConflictKind
from picklist.model.department import DepartmentRun, SetRun
from picklist.model.uses import Reuse


def load_conflicts(run: DepartmentRun, reuses: Sequence[Reuse], clock: SiteClock) -> tuple[Conflict, ...]:
    """A conflict for each reuse that makes it by its route's minutes but not in the run; by need, then set.

    A reuse that makes it only by least minutes (a rush) and is late in the run even so is
    named too: the rush cannot be promised. One that cannot make it at all is not the load's doing.
    """
    ways = {(way.set_id, way.for_case): way for way in run.runs}
    found = []
    for reuse in sorted(reuses, key=lambda one: (one.needed, one.set_id, one.waiter)):
        way = ways.get((reuse.set_id, reuse.waiter))
        if way is not None and way.late > 0 and reuse.least_slack >= 0:
            found.append(_make_conflict(reuse, way, clock))
    return tuple(found)


def blamed_station(way: SetRun) -> str:
    """The station at whose queue the set lost most; the first by name of equals, empty when at none."""
    lost: Counter[str] = Counter()
    for step in way.steps:
        if step.station and step.queued > 0:
            lost[step.station] += step.queued
    return min(lost, key=lambda name: (-lost[name], name)) if lost else ""


def _make_conflict(reuse: Reuse, way: SetRun, clock: SiteClock) -> Conflict:
    station = blamed_station(way)
    return Conflict(
        id=f"load {reuse.set_id} {reuse.waiter}",
        kind=ConflictKind.LOAD,
        tray=reuse.tray,
        waiter=reuse.waiter,
        givers=(reuse.giver,) if reuse.giver else (),
        set_id=reuse.set_id,
        minutes=way.late,
        statement=_statement(reuse, way, station, clock),
        decide_by=way.released,
        depends_on=station,
        missing=_queues(way),
        blame=station,
    )


def _statement(reuse: Reuse, way: SetRun, station: str, clock: SiteClock) -> str:
    start = f"after case {reuse.giver}" if reuse.giver else reuse.from_state
    alone = f"{reuse.slack} min to spare" if reuse.slack >= 0 else "in time only by least minutes"
    cause = f"the queue at {station}" if station else "the queue of sets before it"
    return (
        f"{reuse.set_id} ({start}) has {alone} for case {reuse.waiter} with the department to itself; "
        f"in the load of the day it is ready {clock.stamp(way.ready)}, {way.late} min late, because of {cause}"
    )


def _queues(way: SetRun) -> str:
    """Minutes lost at each station, in words."""
    lost = [f"{step.queued} min at {step.station}" for step in way.steps if step.station and step.queued > 0]
    return f"lost in queues: {', '.join(lost)}" if lost else ""
