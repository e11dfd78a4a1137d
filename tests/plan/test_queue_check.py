"""No remedy makes another set late in the queue: each is carried out and all is planned anew. Our own days."""

from __future__ import annotations

from dataclasses import replace
from datetime import time
from functools import cache

import pytest

from picklist.department import queue_conflicts, run_again, run_department
from picklist.model.conflicts import Conflict, ConflictKind, RemedyKind, conflicts_in
from picklist.model.department import DepartmentRun
from picklist.model.routes import Station, WorkPeriod
from picklist.plan.make import add_queue
from picklist.plan.queue_check import QueueCheck
from picklist.plan.queue_remedies import add_queue_remedies
from picklist.sets.plan_sets import SetsPlan, add_remedies, compose, make_planned_day, plan_sets
from picklist.sets.remedies.planned_day import PlannedDay
from picklist.sets.remedies.trial import Trials
from tests.builders import at
from tests.patience import tries
from tests.sets.days import random_day
from tests.sets.random_sites import Evening
from tests.sets.remedies_apart import moves_of, with_moves

NOW = at("05:00")
SEEDS = (0, 2, 4, 1, 3, 5)[: tries(6, 2)]  # the first two have conflicts of the queue, and remedies refused for it
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
    evening, _, plan, run = planned(seed)
    before = late(evening, plan, run)
    for conflict in shown(seed):
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
            assert conflict.kind is not ConflictKind.QUEUE or conflict.id not in again, (conflict.id, remedy.text)


@cache
def shown(seed: int) -> tuple[Conflict, ...]:
    """All conflicts of a day with their remedies, those of the queue among them."""
    evening, day, plan, run = planned(seed)
    check = QueueCheck(evening.site, day, run, NOW)
    trials = Trials(day, check)
    clusters = add_queue(evening.site, plan, NOW, run, relief=False)
    return conflicts_in(add_queue_remedies(trials, check, add_remedies(trials, clusters)))


def test_conflicts_of_the_queue_have_remedies_like_all_others() -> None:
    queued = [one for seed in SEEDS for one in shown(seed) if one.kind is ConflictKind.QUEUE]
    moved = [one for one in queued if any(remedy.edits[0].kind in MOVED for remedy in one.remedies)]
    assert len(moved) > len(queued) / 2
    assert all(remedy.removes[0] == one.id for one in queued for remedy in one.remedies)


def test_some_remedies_are_refused_for_the_queue_alone() -> None:
    refused = 0
    for seed in SEEDS:
        _, day, plan, _ = planned(seed)
        kept = {one.text for c in shown(seed) for one in c.remedies}
        free = conflicts_in(add_remedies(Trials(day), plan.clusters))
        refused += sum(one.text not in kept for c in free for one in c.remedies)
    assert refused
