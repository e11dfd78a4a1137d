"""Estimate how often each reuse fails when cases overrun, which case is to blame, and what would help."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

import numpy as np

from picklist.department.best_run import queue_times
from picklist.department.day import ChanceModel, Day, make_day
from picklist.department.draw_day import DayDrawer
from picklist.department.improvements import rank_improvements
from picklist.department.propagate import DrawnDays, propagate
from picklist.department.ready_table import Minutes
from picklist.model.department import ChanceReport, DepartmentRun, ReuseChance
from picklist.model.schedule import Case
from picklist.model.site import Site
from picklist.model.uses import Assignment, Reuse


def draw_chances(
    site: Site,
    cases: Sequence[Case],
    assignments: Sequence[Assignment],
    reuses: Sequence[Reuse],
    now: datetime,
    *,
    draws: int,
    seed: int,
    department: DepartmentRun | None = None,
) -> ChanceReport:
    """Simulate the day ``draws`` times: draw minutes and late starts of all cases and follow rooms and sets.

    With ``department`` each set also loses the minutes that its queues cost in the planned run; without it
    each set takes its route's usual minutes. The same seed gives the same figures.
    """
    model = ChanceModel(
        site=site,
        cases=tuple(case for case in cases if case.is_live),
        assignments=tuple(assignments),
        reuses=tuple(reuses),
        now=now,
        queue=queue_times(department) if department else {},
    )
    day = make_day(model)
    drawer = DayDrawer(site, now, draws=draws, seed=seed)
    chosen = drawer.draw(day)
    drawn = propagate(day, chosen)
    return ChanceReport(
        draws=draws,
        seed=seed,
        drawn_from=drawer.drawn_from(day),
        reuses=tuple(_chance(day, drawn, place) for place in range(len(day.links)) if _is_open(day, drawn, place)),
        helps=rank_improvements(model, department, day, chosen, drawn),
    )


def _is_open(day: Day, drawn: DrawnDays, place: int) -> bool:
    """Whether chance has a say: a set that nobody gives back and that is not to be brought is late or it is not.

    Unless its case may wait for its room.
    """
    link, late = day.links[place], drawn.late[place] > 0
    return link.giver >= 0 or link.arrives or bool(late.any() and not late.all())


def _chance(day: Day, drawn: DrawnDays, place: int) -> ReuseChance:
    reuse = day.links[place].reuse
    late = drawn.late[place]
    return ReuseChance(
        set_id=reuse.set_id,
        giver=reuse.giver,
        waiter=reuse.waiter,
        fails=round(float(np.count_nonzero(late)) / len(late), 6),
        fails_hurried=round(float(np.count_nonzero(drawn.hurried[place])) / len(late), 6),
        expected_late=round(float(late.mean()), 3),
        late_p90=round(float(np.quantile(late, 0.9)), 3),
        blame=_blame(day, drawn.blame[place]),
    )


def _blame(day: Day, blame: Minutes) -> str:
    """The case whose overrun mattered most in most draws; of equals the earlier one."""
    found = blame[blame >= 0]
    if not len(found):
        return ""
    return day.cases[int(np.bincount(found).argmax())].number
