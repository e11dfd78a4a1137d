"""Run the whole department: collect the jobs, try several ways of holding loads, keep the best run."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from picklist.department.forward import Shop, run_forward
from picklist.department.jobs import collect_jobs, split_jobs, stations_of
from picklist.department.queue_rules import EARLIEST_DEADLINE, RULES
from picklist.department.report import Reporter
from picklist.department.run_terms import NEVER, CalendarTimes, DepartmentJob, RunOutcome
from picklist.model.department import DepartmentRun
from picklist.model.routes import Station
from picklist.model.site import Site
from picklist.model.uses import Assignment
from picklist.sets.calendar import Calendar, minute_from
from picklist.sets.turnaround import Turnaround

HOLD_SHARES = 6  # longest waits are tried whole and in sixths


def run_department(
    site: Site,
    assignments: Sequence[Assignment],
    now: datetime,
    *,
    rule: str = EARLIEST_DEADLINE,
) -> DepartmentRun:
    """Run every set of the horizon forward through the site's stations, from ``now``.

    ``rule`` is one of ``queue_rules.RULES`` (KeyError otherwise). Several waits for a
    fuller load are tried, from none to each station's longest wait. The run whose latest set is
    least late is kept; of equal ones the one with the least total lateness.
    """
    jobs, shop = _open(site, assignments, now, rule)
    best = run_best(jobs, shop)
    return _describe(site, jobs, best, rule, shop.now)


def run_again(
    site: Site,
    assignments: Sequence[Assignment],
    now: datetime,
    run: DepartmentRun,
) -> DepartmentRun:
    """Run a changed site by the rule of an earlier run, with its loads held as long, to compare the two."""
    jobs, shop = _open(site, assignments, now, run.rule)
    return _describe(site, jobs, try_holding(jobs, shop, dict(run.held)), run.rule, shop.now)


@dataclass(frozen=True, slots=True, kw_only=True)
class QueueTime:
    """When a set is ready with the department to itself and in its run, in minutes since the epoch."""

    alone: int
    ready: int


def queue_times(run: DepartmentRun) -> dict[tuple[str, str], QueueTime]:
    """When each set that a case waits for is ready in a run, by set and case."""
    return {
        key: QueueTime(alone=minute_from(way.alone_ready), ready=minute_from(way.ready))
        for key, way in run.by_wait().items()
    }


class SameRun:
    """A department that is run again by the rule of an earlier run, with its loads held as long.

    The jobs are collected once, for any number of machines; only the times at which sets are ready are given.
    Groups of jobs that share no station and no set are run again only where their own stations are others.
    """

    def __init__(
        self,
        site: Site,
        assignments: Sequence[Assignment],
        now: datetime,
        run: DepartmentRun,
        calendar: Calendar | None = None,
    ) -> None:
        jobs, self._shop = _open(site, assignments, now, run.rule, calendar)
        self._parts = [(part, stations_of(part)) for part in split_jobs(jobs)]
        self._hold = dict(run.held)
        self._as_they_are = [self._times(part, self._shop.stations) for part, _ in self._parts]

    def queue_times(self, stations: Mapping[str, Station]) -> dict[tuple[str, str], QueueTime]:
        """As the function of that name, with these stations."""
        others = {name for name, one in stations.items() if one != self._shop.stations.get(name)}
        found: dict[tuple[str, str], QueueTime] = {}
        for (part, names), as_it_is in zip(self._parts, self._as_they_are, strict=True):
            found |= as_it_is if names.isdisjoint(others) else self._times(part, stations)
        return found

    def _times(
        self, part: Sequence[DepartmentJob], stations: Mapping[str, Station]
    ) -> dict[tuple[str, str], QueueTime]:
        ready = try_holding(part, replace(self._shop, stations=stations), self._hold).outcome.ready
        return {
            (job.set_id, job.for_case): QueueTime(alone=job.alone, ready=at)
            for job, at in zip(part, ready, strict=True)
            if job.for_case and at < NEVER
        }


def late_by_queue(
    turnaround: Turnaround, assignments: Sequence[Assignment], now: datetime, run: DepartmentRun
) -> dict[tuple[str, str], int]:
    """By set and waiting case the minutes late (negative: to spare) in a run held as an earlier one.

    Only of sets that are in time alone: the figures of ``queue_conflicts``, to try many changes on one turnaround.
    """
    jobs, shop = _opened(turnaround, assignments, now, run.rule)
    ready = try_holding(jobs, shop, dict(run.held)).outcome.ready
    return {
        (job.set_id, job.for_case): at - job.due
        for job, at in zip(jobs, ready, strict=True)
        if job.due is not None and job.alone <= job.due and at < NEVER
    }


def _open(
    site: Site, assignments: Sequence[Assignment], now: datetime, rule: str, calendar: Calendar | None = None
) -> tuple[tuple[DepartmentJob, ...], Shop]:
    return _opened(Turnaround(site, calendar), assignments, now, rule)


def _opened(
    turnaround: Turnaround, assignments: Sequence[Assignment], now: datetime, rule: str
) -> tuple[tuple[DepartmentJob, ...], Shop]:
    times = CalendarTimes(turnaround.calendar)
    shop = Shop(now=minute_from(now), stations=turnaround.site.stations, times=times, rule=RULES[rule], hold={})
    return collect_jobs(turnaround, assignments, now), shop


def _describe(site: Site, jobs: Sequence[DepartmentJob], trial: HeldRun, rule: str, now: int) -> DepartmentRun:
    reporter = Reporter(jobs, trial.outcome, site.stations)
    run = reporter.describe(rule, now)
    return replace(run, held=tuple(sorted(trial.hold.items())))


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldRun:
    """A forward run, and the minutes that each station held its loads in it."""

    hold: dict[str, int]
    outcome: RunOutcome
    cost: tuple[int, int, int]


def run_best(jobs: Sequence[DepartmentJob], shop: Shop) -> HeldRun:
    """Try several waits for fuller loads, from none to each station's longest wait, and keep the best run.

    Groups of jobs that share no station and no set are tried separately, then run together.
    """
    parts = split_jobs(jobs)
    found = [_best_of_part(part, _shop_of(part, shop)) for part in parts]
    if len(found) == 1:
        return found[0]
    return try_holding(jobs, shop, {name: wait for trial in found for name, wait in trial.hold.items()})


def _shop_of(jobs: Sequence[DepartmentJob], shop: Shop) -> Shop:
    names = stations_of(jobs)
    return replace(shop, stations={name: one for name, one in shop.stations.items() if name in names})


def _best_of_part(jobs: Sequence[DepartmentJob], shop: Shop) -> HeldRun:
    """Try the same share of the longest wait at all stations; if sets are still late, each station's own.

    Stations are changed one after the other until no change helps.
    """
    waits = {s.id: s.longest_wait for s in shop.stations.values() if s.per_load > 1 and s.longest_wait > 0}
    shares = range(HOLD_SHARES + 1) if waits else range(1)
    best = min((try_holding(jobs, shop, _share_of(waits, share)) for share in shares), key=_cost)
    while best.cost[0] > 0:
        better = _change_one_station(jobs, shop, waits, best)
        if better is best:
            break
        best = better
    return best


def try_holding(jobs: Sequence[DepartmentJob], shop: Shop, hold: dict[str, int]) -> HeldRun:
    """Run once with loads held for these minutes."""
    outcome = run_forward(jobs, replace(shop, hold=hold))
    return HeldRun(hold=hold, outcome=outcome, cost=judge(jobs, outcome))


def judge(jobs: Sequence[DepartmentJob], outcome: RunOutcome) -> tuple[int, int, int]:
    """Greatest lateness (0 when all are in time), total lateness, and greatest lateness with its sign.

    Only minutes lost to other sets count: a set that could not be in time even alone is due when it could be ready.
    """
    pairs = zip(jobs, outcome.ready, strict=True)
    late = [ready - max(job.due, job.alone) for job, ready in pairs if job.due is not None]
    greatest = max(late, default=-NEVER)
    return max(0, greatest), sum(max(0, one) for one in late), greatest


def _change_one_station(jobs: Sequence[DepartmentJob], shop: Shop, waits: dict[str, int], best: HeldRun) -> HeldRun:
    for station in sorted(waits):
        for share in range(HOLD_SHARES + 1):
            hold = best.hold | _share_of({station: waits[station]}, share)
            if hold != best.hold:
                best = min(best, try_holding(jobs, shop, hold), key=_cost)
    return best


def _share_of(waits: dict[str, int], share: int) -> dict[str, int]:
    return {name: wait * share // HOLD_SHARES for name, wait in waits.items()}


def _cost(trial: HeldRun) -> tuple[int, int, int]:
    return trial.cost
