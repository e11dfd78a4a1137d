"""Prepare a day of cases for the draws: cases in order, with the room and the sets that can delay each."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from picklist.clock import minutes_between
from picklist.department.jobs import department_steps
from picklist.department.ready_table import ReadyTables
from picklist.model.department import DepartmentRun, SetRun
from picklist.model.routes import Step
from picklist.model.schedule import Case
from picklist.model.site import Site
from picklist.model.uses import Assignment, Pace, Reuse, Use
from picklist.sets.calendar import minute_from, minute_until
from picklist.sets.case_uses import case_times
from picklist.sets.states import first_available, home_of, ready_for
from picklist.sets.turnaround import Turnaround
from picklist.sets.walk import begins_in_room

MINUTES_PER_DAY = 1440
DAYS_AHEAD = 8  # how far beyond the last need a set's way is followed


@dataclass(frozen=True, slots=True, kw_only=True)
class ReuseLink:
    """A reuse between two cases of the day, by their places.

    ``giver`` and ``waiter`` are places of cases (-1: no case gives it, or none of the day).
    ``released``, ``needed`` and ``fixed`` (when it is ready without a giver) are minutes since
    the epoch; ``delay`` is added to the walk for what the department's run costs it.
    """

    reuse: Reuse
    giver: int
    waiter: int
    released: int
    needed: int
    steps: tuple[Step, ...] = ()
    delay: int = 0
    fixed: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    """Cases in order of start.

    ``before``: place of the case before in the room (-1: none); ``spare``: minutes that case may
    end late without pushing this one. ``unserved``: places of cases with a use that no set
    serves, and the tray wanted.
    """

    cases: tuple[Case, ...]
    before: tuple[int, ...]
    spare: tuple[int, ...]
    links: tuple[ReuseLink, ...]
    unserved: tuple[tuple[int, str], ...]
    stairs: ReadyTables


@dataclass(frozen=True, slots=True, kw_only=True)
class ChanceModel:
    """What a day is made from. Without ``department`` each set takes its route's usual minutes."""

    site: Site
    cases: tuple[Case, ...]
    assignments: tuple[Assignment, ...]
    reuses: tuple[Reuse, ...]
    now: datetime
    department: DepartmentRun | None = None
    sooner: int = 0  # minutes that every set leaves its room earlier


def make_day(model: ChanceModel, stairs: ReadyTables | None = None) -> Day:
    """Make the day of a model; ``stairs`` of the same calendar may be shared."""
    turnaround = Turnaround(model.site)
    cases = tuple(sorted(model.cases, key=lambda case: (case.start, case.number)))
    places = {case.number: place for place, case in enumerate(cases)}
    before, spare = _room_order(model.site, cases)
    return Day(
        cases=cases,
        before=before,
        spare=spare,
        links=_make_links(model, turnaround, places),
        unserved=tuple(_unserved(model.assignments, places)),
        stairs=stairs or _make_stairs(model, turnaround),
    )


def _unserved(assignments: Sequence[Assignment], places: dict[str, int]) -> list[tuple[int, str]]:
    without = [given.use for given in assignments if not given.set_id and given.use.case in places]
    return sorted((places[use.case], use.tray) for use in without)


def _room_order(site: Site, cases: Sequence[Case]) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """The case before in each room, and how late it may end without delaying the next.

    Two cases planned closer than the turnover need no more minutes than the schedule gives them.
    """
    last: dict[tuple[str, object], int] = {}
    before, spare = [], []
    for place, case in enumerate(cases):
        earlier = last.get((case.room, case.day), -1)
        before.append(earlier)
        gap = 0
        if earlier >= 0:
            gap = minutes_between(cases[earlier].start, case.start) - cases[earlier].minutes
        spare.append(max(0, gap - site.settings.turnover))
        last[case.room, case.day] = place
    return tuple(before), tuple(spare)


def _make_stairs(model: ChanceModel, turnaround: Turnaround) -> ReadyTables:
    moments = [reuse.released for reuse in model.reuses] + [reuse.needed for reuse in model.reuses]
    first = minute_from(min([*moments, model.now]))
    last = minute_from(max([*moments, model.now]))
    return ReadyTables(turnaround.calendar, first - MINUTES_PER_DAY, last + DAYS_AHEAD * MINUTES_PER_DAY)


def _make_links(model: ChanceModel, turnaround: Turnaround, places: dict[str, int]) -> tuple[ReuseLink, ...]:
    runs = model.department.runs if model.department else ()
    ways = {(way.set_id, way.for_case): way for way in runs}
    uses = {given.use.key: given.use for given in model.assignments}
    found: dict[int, list[ReuseLink]] = defaultdict(list)
    for reuse in sorted(model.reuses, key=lambda one: (one.waiter, one.set_id, one.released)):
        if reuse.waiter in places:
            way = ways.get((reuse.set_id, reuse.waiter))
            link = _make_link(model, turnaround, reuse, way, (places, uses))
            found[link.waiter].append(link)
    return tuple(link for waiter in sorted(found) for link in found[waiter])


def _make_link(
    model: ChanceModel,
    turnaround: Turnaround,
    reuse: Reuse,
    way: SetRun | None,
    known: tuple[dict[str, int], dict[str, Use]],
) -> ReuseLink:
    places, uses = known
    waiter = places[reuse.waiter]
    use = uses.get(reuse.waiter_use)
    giver = places.get(reuse.giver, -1)
    return ReuseLink(
        reuse=reuse,
        giver=giver if giver < waiter else -1,
        waiter=waiter,
        released=_released(model, turnaround, reuse) - model.sooner,
        needed=minute_until(reuse.needed),
        steps=_steps(turnaround, reuse, way, use.building if use else ""),
        delay=max(0, minutes_between(way.alone_ready, way.ready)) if way else 0,
        fixed=minute_from(way.ready if way else _ready_from_state(model, turnaround, reuse, use)),
    )


def _ready_from_state(model: ChanceModel, turnaround: Turnaround, reuse: Reuse, use: Use | None) -> datetime:
    """When a set that no case gives is ready. Worked out again, as the model's hours may differ from the plan's."""
    one = model.site.sets.get(reuse.set_id)
    if reuse.giver or use is None or one is None:
        return reuse.ready
    return ready_for(turnaround, first_available(turnaround, one, model.now), use) or reuse.ready


def _released(model: ChanceModel, turnaround: Turnaround, reuse: Reuse) -> int:
    """When the route starts if the giver ends on plan, also where a running case is past its plan already."""
    giver = next((case for case in model.cases if case.number == reuse.giver), None)
    if giver is None or not giver.is_running:
        return minute_from(reuse.released)
    haul = 0 if begins_in_room(turnaround.steps(reuse.tray)) else model.site.settings.haul
    return minute_from(case_times(model.site.settings, giver).leaves_room) + haul


def _steps(turnaround: Turnaround, reuse: Reuse, way: SetRun | None, building: str) -> tuple[Step, ...]:
    one = turnaround.site.sets.get(reuse.set_id)
    home = home_of(turnaround, one) if one else ""
    timed_route = turnaround.timed_route(reuse.tray, Pace.USUAL, home, building)
    steps = timed_route.steps if timed_route else turnaround.steps(reuse.tray)
    return department_steps(steps, steps) if way else steps
