"""Run the whole department: collect the jobs, try several ways of holding loads, keep the best run."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from picklist.department.forward import Shop, joined_outcome, lateness, ready_in_run, ready_while_better, run_forward
from picklist.department.jobs import collect_jobs, split_jobs
from picklist.department.report import Reporter
from picklist.department.run_terms import NEVER, CalendarTimes, DepartmentJob, JobGroup, RunOutcome
from picklist.model.department import DepartmentRun
from picklist.model.routes import Station
from picklist.model.site import Site
from picklist.model.uses import Assignment
from picklist.sets.calendar import Calendar, minute_from
from picklist.sets.turnaround import Turnaround

HOLD_SHARES = 6  # longest waits are tried whole and in sixths


def run_department(site: Site, assignments: Sequence[Assignment], now: datetime) -> DepartmentRun:
    """Run every set of the horizon forward through the site's stations, from ``now``.

    Several waits for a fuller load are tried, from none to each station's longest wait. The run whose latest set is
    least late is kept; of equal ones the one with the least total lateness.
    """
    jobs, shop = _open(Turnaround(site), assignments, now)
    return _describe(jobs, shop, run_best(jobs, shop))


def run_again(site: Site, assignments: Sequence[Assignment], now: datetime, run: DepartmentRun) -> DepartmentRun:
    """Run a changed site with its loads held as long as in an earlier run, to compare the two."""
    jobs, shop = _open(Turnaround(site), assignments, now)
    return _describe(jobs, shop, try_holding(jobs, shop, dict(run.held)))


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
    """A department that is run again with its loads held as long as in an earlier run.

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
        self._jobs, self._shop = _open(Turnaround(site, calendar), assignments, now)
        self._groups = [(group, group.stations) for group in split_jobs(self._jobs)]
        self._hold = dict(run.held)
        self._as_it_was = queue_times(run)

    def queue_times(self) -> dict[tuple[str, str], QueueTime]:
        """As the function of that name, of the site as it is given here."""
        return self._times(self._jobs, self._shop.stations)

    def with_stations(self, stations: Mapping[str, Station]) -> dict[tuple[str, str], QueueTime]:
        """The same with these stations, where all else is as in the earlier run."""
        others = {name for name, one in stations.items() if one != self._shop.stations.get(name)}
        found = dict(self._as_it_was)
        for group, names in self._groups:
            if not names.isdisjoint(others):
                for job in group.jobs:
                    found.pop((job.set_id, job.for_case), None)
                found |= self._times(group.jobs, stations)
        return found

    def _times(
        self, jobs: Sequence[DepartmentJob], stations: Mapping[str, Station]
    ) -> dict[tuple[str, str], QueueTime]:
        ready = ready_in_run(jobs, replace(self._shop, stations=stations, hold=self._hold))
        return {
            (job.set_id, job.for_case): QueueTime(alone=job.alone, ready=at)
            for job, at in zip(jobs, ready, strict=True)
            if job.for_case and at < NEVER
        }


def late_by_queue(
    turnaround: Turnaround, assignments: Sequence[Assignment], now: datetime, run: DepartmentRun
) -> dict[tuple[str, str], int]:
    """By set and waiting case the minutes late (negative: to spare) in a run held as an earlier one.

    Only of sets that are in time alone: the figures of ``queue_conflicts``, to try many changes on one turnaround.
    """
    jobs, shop = _open(turnaround, assignments, now)
    ready = ready_in_run(jobs, replace(shop, hold=dict(run.held)))
    return {
        (job.set_id, job.for_case): at - job.due
        for job, at in zip(jobs, ready, strict=True)
        if job.due is not None and job.alone <= job.due and at < NEVER
    }


def _open(
    turnaround: Turnaround, assignments: Sequence[Assignment], now: datetime
) -> tuple[tuple[DepartmentJob, ...], Shop]:
    times = CalendarTimes(turnaround.calendar)
    shop = Shop(now=minute_from(now), stations=turnaround.site.stations, times=times, hold={})
    return collect_jobs(turnaround, assignments, now), shop


def _describe(jobs: Sequence[DepartmentJob], shop: Shop, trial: HeldRun) -> DepartmentRun:
    return Reporter(jobs, trial.outcome, shop.stations).describe(shop.now, trial.hold)


@dataclass(frozen=True, slots=True, kw_only=True)
class Holding:
    """The minutes that each station held its loads in a run, and how late that was (see ``judge``)."""

    hold: dict[str, int]
    cost: tuple[int, int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldRun(Holding):
    """The same with all that happened in the run."""

    outcome: RunOutcome


def run_best(jobs: Sequence[DepartmentJob], shop: Shop) -> HeldRun:
    """Try several waits for fuller loads, from none to each station's longest wait, and keep the best run.

    Groups of jobs that share no station and no set are tried separately.
    """
    groups = split_jobs(jobs)
    found = [_best_of_group(group, shop) for group in groups]
    outcome = joined_outcome(groups, [trial.outcome for trial in found])
    hold = {name: wait for trial in found for name, wait in trial.hold.items()}
    return HeldRun(hold=hold, outcome=outcome, cost=judge(jobs, outcome.ready))


def _best_of_group(group: JobGroup, shop: Shop) -> HeldRun:
    """Try the same share of the longest wait at all stations; if sets are still late, each station's own.

    Stations are changed one after the other until no change helps.
    """
    own = {name: shop.stations[name] for name in sorted(group.stations & shop.stations.keys())}
    trials = _HoldTrials(jobs=group.jobs, shop=replace(shop, stations=own))
    waits = {s.id: s.longest_wait for s in own.values() if s.per_load > 1 and s.longest_wait > 0}
    first = try_holding(group.jobs, trials.shop, _share_of(waits, 0))
    if first.cost == (0, 0, _least_lateness(group.jobs)):
        return first
    best: Holding = first
    for share in range(1, HOLD_SHARES + 1) if waits else ():
        best = trials.better(best, _share_of(waits, share))
    while best.cost[0] > 0:
        better = trials.change_one_station(waits, best)
        if better is best:
            break
        best = better
    return first if best is first else try_holding(group.jobs, trials.shop, best.hold)


def try_holding(jobs: Sequence[DepartmentJob], shop: Shop, hold: dict[str, int]) -> HeldRun:
    """Run once with loads held for these minutes."""
    outcome = run_forward(jobs, replace(shop, hold=hold))
    return HeldRun(hold=hold, outcome=outcome, cost=judge(jobs, outcome.ready))


def judge(jobs: Sequence[DepartmentJob], ready: Sequence[int]) -> tuple[int, int, int]:
    """Greatest lateness (0 when all are in time), total lateness, and greatest lateness with its sign.

    ``ready``: when each of the jobs is. Only minutes lost to other sets count (see ``lateness``).
    """
    pairs = zip(jobs, ready, strict=True)
    late = [minutes for minutes in (lateness(job, at) for job, at in pairs) if minutes is not None]
    greatest = max(late, default=-NEVER)
    return max(0, greatest), sum(max(0, one) for one in late), greatest


def _least_lateness(jobs: Sequence[DepartmentJob]) -> int:
    """What no run can do better than: the greatest lateness if each set had the department to itself."""
    alone = (lateness(job, job.alone) for job in jobs)
    return max((minutes for minutes in alone if minutes is not None), default=-NEVER)


@dataclass(frozen=True, slots=True, kw_only=True)
class _HoldTrials:
    """Runs of the same jobs with other waits."""

    jobs: Sequence[DepartmentJob]
    shop: Shop

    def better(self, best: Holding, hold: dict[str, int]) -> Holding:
        """These waits if a run with them is better than the best so far, else those.

        A run in which one set is later than the latest of the best is not followed to its end.
        """
        ready = ready_while_better(self.jobs, replace(self.shop, hold=hold), best.cost[2])
        if ready is None:
            return best
        return min(best, Holding(hold=hold, cost=judge(self.jobs, ready)), key=_cost)

    def change_one_station(self, waits: dict[str, int], best: Holding) -> Holding:
        """The best of the waits that differ at single stations, changed one after the other."""
        for station in sorted(waits):
            for share in range(HOLD_SHARES + 1):
                hold = best.hold | _share_of({station: waits[station]}, share)
                if hold != best.hold:
                    best = self.better(best, hold)
        return best


def _share_of(waits: dict[str, int], share: int) -> dict[str, int]:
    return {name: wait * share // HOLD_SHARES for name, wait in waits.items()}


def _cost(trial: Holding) -> tuple[int, int, int]:
    return trial.cost
