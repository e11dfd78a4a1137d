"""Apply a tried change to a plan. The result is for looking at, not for printing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from picklist.model.plan import Plan
from picklist.model.schedule import Case
from picklist.model.site import Site
from picklist.plan.make_carts import CartMaker, EngineResults
from picklist.sets.case_uses import case_times
from picklist.sets.plan_sets import SetsPlan


def change_plan(site: Site, plan: Plan, cases: Sequence[Case], sets: SetsPlan) -> Plan:
    """Make the plan again with cases at other starts or in other rooms and the sets allocated again.

    Needs and stock stay as they were. The department's run, chances and remedies are left out: each
    would take longer than a trial may. ``site`` is the one that ``plan`` was made from.
    """
    given = EngineResults(
        needs=tuple(cart.needs for cart in plan.carts),
        picks=tuple(pick for cart in plan.carts for line in cart.goods for pick in line.picks),
        shortages=plan.shortages,
        assignments=sets.assignments,
        reuses=sets.reuses,
        conflicts=sets.conflicts,
    )
    built = {cart.case.number for cart in plan.carts}
    moved = [case for case in cases if case.number in built]
    complete_by = {case.number: case_times(site.settings, case).needed for case in moved}
    stopping = tuple(problem for cart in plan.carts for problem in cart.stopped)
    maker = CartMaker(site, given, stopping, complete_by)
    return replace(
        plan,
        carts=tuple(maker.make(case) for case in sorted(moved, key=lambda c: (c.start, c.room, c.number))),
        cases=tuple(cases),
        assignments=sets.assignments,
        reuses=sets.reuses,
        clusters=sets.clusters,
        remedies_sought=False,
        department=None,
        chance=None,
    )
