"""What chance of failing is left after a change: with the same draws as the plan, of one use only."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from picklist.clock import SiteClock, minutes_between
from picklist.department.best_run import queue_times
from picklist.department.day import ChanceModel, Day, make_day, make_ready_tables
from picklist.department.draw_day import DayDrawer
from picklist.department.propagate import DrawnDays, propagate
from picklist.department.ready_table import Minutes
from picklist.model.conflicts import ChanceLeft
from picklist.model.department import DepartmentRun
from picklist.model.routes import Step
from picklist.model.schedule import Case, one_after_another
from picklist.model.site import Site
from picklist.model.uses import Pace
from picklist.sets.allocate_group import Service, assignments_of
from picklist.sets.remedies.planned_day import MADE_READY, PlannedDay
from picklist.sets.states import home_of


class ChanceAfter:
    """Tells the chance of failing that a changed plan leaves to a use.

    Each case has its own stream of random numbers, so that a change is compared on the same draws as the plan.
    Only the cases that can make the use late are drawn: those that give sets on the way to it, and those before
    them in their rooms.
    """

    def __init__(self, site: Site, now: datetime, run: DepartmentRun | None = None) -> None:
        self.site, self.now = site, now
        from_case = {key: way.from_case for key, way in run.by_wait().items()} if run else {}
        times = queue_times(run) if run else {}
        self._queue = {(set_id, from_case[set_id, case], case): time for (set_id, case), time in times.items()}
        self._drawer = DayDrawer(site, now, draws=site.settings.draws, seed=site.settings.seed)
        self._tables = make_ready_tables(site, [now, *(case.start for case in site.cases)])

    def __call__(self, changed: PlannedDay, use: str) -> ChanceLeft | None:
        """The chance that is left to a use, by its key.

        None where nothing is left to chance: its set is on the shelf, or the case no longer wants it; 1 without
        a set.
        """
        if not self.site.settings.draws:
            return None
        plans = changed.plans.values()
        if any(lacking.key == use for plan in plans for lacking, _ in plan.unserved):
            return ChanceLeft(usual=1.0, hurried=1.0)
        services = {one.use.key: one for plan in plans for one in plan.services}
        mine = services.get(use)
        if mine is None or (mine.reuse is None and not self._is_brought(mine)):
            return None
        clock = self.site.settings.site_clock
        cases = cases_before(mine.use.case, changed.cases, _givers(services.values()), clock)
        day = self._day(changed, [one for one in services.values() if one.use.case in cases], cases)
        drawn = propagate(day, self._drawer.draw(day))
        if mine.reuse is None:
            return self._of_brought(mine, day, drawn)
        place = next((n for n, link in enumerate(day.links) if link.reuse.waiter_use == use), None)
        if place is None:
            return None
        return ChanceLeft(usual=_share(drawn.late[place]), hurried=_share(drawn.hurried[place]))

    def _day(self, changed: PlannedDay, services: list[Service], cases: Collection[str]) -> Day:
        keys = {one.use.key for one in services}
        given = (one for plan in changed.plans.values() for one in assignments_of(plan) if one.use.key in keys)
        reuses = tuple(one.reuse for one in services if one.reuse)
        model = ChanceModel(
            site=self.site,
            cases=tuple(case for number, case in changed.cases.items() if number in cases),
            assignments=tuple(given),
            reuses=reuses,
            now=self.now,
            queue={
                (one.set_id, one.waiter): self._queue[one.set_id, one.giver, one.waiter]
                for one in reuses
                if (one.set_id, one.giver, one.waiter) in self._queue
            },
            hastened=_hastened(changed, services),
        )
        return make_day(model, self._tables)

    def _is_brought(self, service: Service) -> bool:
        """Whether its set comes from elsewhere; one of the house that is only made ready is no matter of the road."""
        own = service.one.id.removesuffix(MADE_READY)
        return service.expected is not None and own not in self.site.sets

    def _of_brought(self, service: Service, day: Day, drawn: DrawnDays) -> ChanceLeft:
        """The chance that a set that is brought for a use comes too late for it."""
        waiter = next(place for place, case in enumerate(day.cases) if case.number == service.use.case)
        spare = minutes_between(service.expected, service.use.needed) if service.expected else 0
        late = self._drawer.arrival(service.one.id) > spare + drawn.rooms[waiter]
        return ChanceLeft(usual=_share(late), hurried=_share(late))


def cases_before(
    case: str, cases: Mapping[str, Case], givers: Mapping[str, set[str]], clock: SiteClock
) -> frozenset[str]:
    """A case and all whose lateness can reach it: those that give it sets, those before it in its room, and so on."""
    ahead = {after.number: before.number for before, after in one_after_another(cases.values(), clock)}
    found: set[str] = set()
    open_cases = [case]
    while open_cases:
        number = open_cases.pop()
        if number in cases and number not in found:
            found.add(number)
            open_cases += [*givers.get(number, ()), *([ahead[number]] if number in ahead else [])]
    return frozenset(found)


def _givers(services: Iterable[Service]) -> dict[str, set[str]]:
    found: dict[str, set[str]] = {}
    for one in services:
        if one.reuse and one.reuse.giver:
            found.setdefault(one.use.case, set()).add(one.reuse.giver)
    return found


def _hastened(changed: PlannedDay, services: Iterable[Service]) -> dict[str, tuple[Step, ...]]:
    """The steps on the way to each use whose set is hurried by a change."""
    found = {}
    hastes = changed.scenario.hastes
    for one in services:
        source = one.after.key if one.after else one.one.id
        mine = tuple(haste for haste in hastes if haste.source == source and haste.tray == one.one.tray)
        if mine and one.reuse:
            turnaround = changed.context.turnaround_of(source, one.one.tray, mine)
            home = home_of(turnaround, one.one)
            used_in = one.after.building if one.after else turnaround.building(one.reuse.giver)
            timed_route = turnaround.timed_route(one.one.tray, Pace.USUAL, home, one.use.building, used_in)
            found[one.use.key] = timed_route.steps if timed_route else turnaround.steps(one.one.tray)
    return found


def _share(late: Minutes | NDArray[np.bool_]) -> float:
    return round(float(np.count_nonzero(late)) / len(late), 6)
