"""The forward run of the whole department: collect, run under each way of holding loads, keep the best."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from picklist.department.forward import Shop, run_forward
from picklist.department.jobs import collect_jobs
from picklist.department.report import Reporter
from picklist.department.rules import EARLIEST_DEADLINE, RULES
from picklist.department.times import CalendarTimes
from picklist.department.work import NEVER, Job, Outcome
from picklist.model.department import DepartmentRun
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
    calendar: Calendar | None = None,
) -> DepartmentRun:
    """Run every set of the horizon forward through the site's stations, from ``now``.

    ``rule`` is one of ``rules.RULES`` (KeyError otherwise). How long a load is held for a
    fuller one is tried from not at all to each station's longest wait; the run with the
    least greatest lateness, then the least total lateness, is kept.
    """
    turnaround = Turnaround(site, calendar)
    jobs = collect_jobs(turnaround, assignments, now)
    shop = Shop(
        now=minute_from(now),
        stations=site.stations,
        times=CalendarTimes(turnaround.calendar),
        rule=RULES[rule],
        hold={},
    )
    outcome = run_best(jobs, shop)
    reporter = Reporter(jobs, outcome, site.stations, site.settings.site_clock)
    return reporter.describe(rule, shop.now)


def run_best(jobs: Sequence[Job], shop: Shop) -> Outcome:
    """The best of the runs with loads held for none to all of each station's longest wait.

    First all stations by the same share; where sets are late even so, each station's own share,
    one station after the other, until no change helps.
    """
    stations = sorted(s.id for s in shop.stations.values() if s.per_load > 1 and s.longest_wait > 0)
    tried = [_try(jobs, shop, dict.fromkeys(stations, share)) for share in _shares(stations)]
    best = min(tried, key=lambda trial: trial.cost)
    while best.cost[0] > 0:
        better = _change_one_station(jobs, shop, best)
        if better is best:
            break
        best = better
    return best.outcome


@dataclass(frozen=True, slots=True, kw_only=True)
class _Trial:
    """A run with each station's share of its longest wait, in sixths."""

    shares: dict[str, int]
    outcome: Outcome
    cost: tuple[int, int, int]


def _shares(stations: Sequence[str]) -> range:
    return range(HOLD_SHARES + 1) if stations else range(1)


def _try(jobs: Sequence[Job], shop: Shop, shares: dict[str, int]) -> _Trial:
    hold = {name: shop.stations[name].longest_wait * share // HOLD_SHARES for name, share in shares.items()}
    outcome = run_forward(jobs, replace(shop, hold=hold))
    return _Trial(shares=shares, outcome=outcome, cost=judge(jobs, outcome))


def _change_one_station(jobs: Sequence[Job], shop: Shop, best: _Trial) -> _Trial:
    for station in best.shares:
        for share in _shares([station]):
            if share != best.shares[station]:
                best = min(best, _try(jobs, shop, {**best.shares, station: share}), key=lambda trial: trial.cost)
    return best


def judge(jobs: Sequence[Job], outcome: Outcome) -> tuple[int, int, int]:
    """Greatest lateness (0 when all are in time), total lateness, and greatest lateness with its sign.

    Only minutes that the load costs count: a set that could not be in time alone is due when it could be.
    """
    pairs = zip(jobs, outcome.ready, strict=True)
    late = [ready - max(job.due, job.alone) for job, ready in pairs if job.due is not None]
    greatest = max(late, default=-NEVER)
    return max(0, greatest), sum(max(0, one) for one in late), greatest
