"""The forward run of the whole department: collect, run under each way of holding loads, keep the best."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from picklist.department.forward import Shop, run_forward
from picklist.department.jobs import Work, collect_work
from picklist.department.report import Reporter
from picklist.department.rules import EARLIEST_DEADLINE, RULES
from picklist.department.times import CalendarTimes
from picklist.department.work import NEVER, Outcome
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
    work = collect_work(turnaround, assignments, now)
    shop = Shop(
        now=minute_from(now),
        stations=site.stations,
        times=CalendarTimes(turnaround.calendar),
        rule=RULES[rule],
        hold={},
    )
    outcome = run_best(work, shop)
    reporter = Reporter(work, outcome, dict(site.stations), site.settings.site_clock)
    return reporter.describe(rule, shop.now)


def run_best(work: Work, shop: Shop) -> Outcome:
    """The best of the runs with loads held for none to all of each station's longest wait."""
    waits = {name: station.longest_wait for name, station in shop.stations.items() if station.per_load > 1}
    shares = range(HOLD_SHARES + 1) if any(waits.values()) else range(1)
    best: tuple[tuple[int, int, int], Outcome] | None = None
    for share in shares:
        hold = {name: wait * share // HOLD_SHARES for name, wait in waits.items()}
        outcome = run_forward(work.jobs, _holding(shop, hold))
        cost = judge(work, outcome)
        if best is None or cost < best[0]:
            best = (cost, outcome)
    assert best is not None
    return best[1]


def judge(work: Work, outcome: Outcome) -> tuple[int, int, int]:
    """Greatest lateness (0 when all are in time), total lateness, and greatest lateness with its sign."""
    late = [ready - job.due for job, ready in zip(work.jobs, outcome.ready, strict=True) if job.due is not None]
    greatest = max(late, default=-NEVER)
    return max(0, greatest), sum(max(0, one) for one in late), greatest


def _holding(shop: Shop, hold: dict[str, int]) -> Shop:
    return Shop(now=shop.now, stations=shop.stations, times=shop.times, rule=shop.rule, hold=hold)
