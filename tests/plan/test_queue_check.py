"""No remedy makes another set late in the queue: each is carried out and all is planned anew. Our own days."""

from __future__ import annotations

from dataclasses import replace
from datetime import time
from functools import cache

import pytest

from picklist.department import queue_conflicts, run_again, run_department
from picklist.model.conflicts import RemedyKind
from picklist.model.department import DepartmentRun
from picklist.model.routes import Station, WorkPeriod
from picklist.plan.queue_check import QueueCheck
from picklist.sets.plan_sets import SetsPlan, add_remedies, compose, make_planned_day, plan_sets
from picklist.sets.remedies.planned_day import PlannedDay
from tests.builders import at
from tests.sets.days import random_day
from tests.sets.random_sites import Evening
from tests.sets.remedies_apart import moves_of, with_moves

NOW = at("05:00")
SEEDS = range(6)
MOVED = (RemedyKind.SHIFT, RemedyKind.ROOM, RemedyKind.SWAP)


def scarce(seed: int) -> Evening:
    """A day on which all trays share one washer and one sterilizer, for two sets at a time."""
    site, uses = random_day(seed, cases=14, rooms=5, trays=5, spare=1.1)
    names = ("wash", "steam")
    route = site.routes["R"]
    steps = tuple(replace(step, station=step.name if step.name in names else "") for step in route.steps)
    hours = tuple(
        WorkPeriod(station=name, weekday=day, opens=time(0), closes=time(0)) for name in names for day in range(7)
    )
    stations = {name: Station(id=name, machines=1, per_load=2) for name in names}
    site = replace(site, routes={"R": replace(route, steps=steps)}, stations=stations, hours=hours)
    return Evening(site=site, uses=uses, now=NOW)


def late(evening: Evening, plan: SetsPlan, run: DepartmentRun) -> dict[str, int]:
    found = queue_conflicts(run, plan.reuses, evening.site.settings.site_clock)
    return {one.id: one.minutes for one in found}


@cache
def planned(seed: int) -> tuple[Evening, PlannedDay, SetsPlan, DepartmentRun]:
    evening = scarce(seed)
    day = make_planned_day(evening.site, evening.uses, NOW)
    plan = compose(day)
    return evening, day, plan, run_department(evening.site, plan.assignments, NOW)


@pytest.mark.parametrize("seed", SEEDS)
def test_no_remedy_that_is_shown_makes_a_set_late_in_the_queue(seed: int) -> None:
    evening, day, plan, run = planned(seed)
    before = late(evening, plan, run)
    shown = add_remedies(day, plan, QueueCheck(evening.site, day, run, NOW))
    for conflict in shown.conflicts:
        for remedy in conflict.remedies:
            if any(edit.kind not in MOVED for edit in remedy.edits):
                continue
            after = evening
            for edit in remedy.edits:
                after = with_moves(after, moves_of(after, edit))
            rebuilt = plan_sets(after.site, after.uses, NOW, remedies=False)
            again = late(after, rebuilt, run_again(after.site, rebuilt.assignments, NOW, run))
            worse = {key: minutes for key, minutes in again.items() if minutes > before.get(key, 0)}
            assert not worse, (conflict.id, remedy.text)


def test_some_remedies_are_refused_for_the_queue_alone() -> None:
    refused = 0
    for seed in SEEDS:
        evening, day, plan, run = planned(seed)
        check = QueueCheck(evening.site, day, run, NOW)
        kept = {one.text for c in add_remedies(day, plan, check).conflicts for one in c.remedies}
        refused += sum(one.text not in kept for c in add_remedies(day, plan).conflicts for one in c.remedies)
    assert refused
