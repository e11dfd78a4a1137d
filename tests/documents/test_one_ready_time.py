"""Every paper, the board, ``why`` and ``try`` say one ready time for a set, its next use and a pace."""

from __future__ import annotations

import random
import re
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from picklist.documents.board.view import BoardView
from picklist.documents.views.conflict_sheet import ConflictsView
from picklist.documents.views.department_sheet import DepartmentView
from picklist.documents.views.finished_words import View
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.pick_list import PickListView
from picklist.documents.views.stamp import printing_of
from picklist.documents.views.worklist import WorklistView
from picklist.model.conflicts import Edit, RemedyKind
from picklist.model.plan import Plan
from picklist.model.site import Site
from picklist.model.uses import Pace
from picklist.plan import PlanRequest
from picklist.plan.make import change_plan, resolve_horizon
from picklist.problems import Problem
from picklist.tasks.try_out import TryAnswer, plan_evening, try_edits
from picklist.wording import PACE_WORDS
from picklist.wording.say_conflicts import statement
from picklist.wording.say_department import explain_set
from tests.builders import at
from tests.kept import planned_once, sample_read
from tests.patience import tries

TIME = r"(?:\w{3} \d{1,2} \w{3} )?\d{2}:\d{2}"
PACED = re.compile(rf"({TIME}) ({'|'.join(PACE_WORDS.values())})")
LAST_WITH = re.compile(r"with (?:case )?(\S+) (?:until|from)")
BARE = re.compile(rf"(?:ready|expected)(?: again)? {TIME}(?! (?:{'|'.join(PACE_WORDS.values())}|if left unopened))")
SEEDS = range(3)


NOW = at("18:00", -1)


@cache
def seeded_site(seed: int) -> tuple[Site, tuple[Problem, ...]]:
    """The sample, a third of its cases up to an hour earlier or later, and as many of its sets not ready yet."""
    draw = random.Random(seed)
    site, problems = sample_read()
    assert site is not None
    cases = [
        replace(one, minutes=max(30, one.minutes + 5 * draw.randrange(-12, 13))) if draw.random() < 0.3 else one
        for one in site.cases
    ]
    stations = {
        name: replace(one, machines=max(1, one.machines - draw.randrange(2))) for name, one in site.stations.items()
    }
    return replace(site, cases=tuple(cases), stations=stations), problems


@cache
def seeded_day(seed: int) -> Plan:
    """The plan of such a day."""
    request = PlanRequest(day=at("00:00").date(), now=NOW, with_chance=False, with_remedies=False)
    return planned_once(*seeded_site(seed), request)


def tried_on(seed: int) -> tuple[TryAnswer, Plan]:
    """What it would do to cancel a case that gives a set in a conflict, and the plan then."""
    (site, problems), plan = seeded_site(seed), seeded_day(seed)
    giver = next(case for one in plan.conflicts for case in one.givers)
    evening = plan_evening(site, resolve_horizon(site, problems, NOW), NOW)
    answer = try_edits(evening, (Edit(kind=RemedyKind.CANCEL, case=giver),))
    return answer, change_plan(site, plan, answer.tried.cases, answer.tried.after, answer.clusters, answer.run)


def strings(thing: Any, around: str = "") -> Iterator[tuple[str, str]]:
    """Every string of a view, with the set that it is said of: its own object's, or the one it stands in."""
    if isinstance(thing, str):
        yield around, thing
    elif isinstance(thing, View):
        own = getattr(thing, "set_id", "") or around
        for one in vars(thing).values():
            yield from strings(one, own)
    elif isinstance(thing, tuple | list):
        for one in thing:
            yield from strings(one, around)
    elif isinstance(thing, dict):
        yield from strings(list(thing.values()), around)


def everything_said(found: Lookup) -> Iterator[tuple[str, str]]:
    plan, own = found.plan, printing_of(found.plan)
    views = [DepartmentView(found), ConflictsView(found), WorklistView(found), BoardView(plan)]
    yield from strings([*views, *(PickListView(found, cart, own) for cart in plan.carts)])
    assert plan.department is not None
    for one in plan.sets:
        yield from strings(list(explain_set(plan.department, plan.reuses, one.id, found.clock)), one.id)


def true_times(found: Lookup) -> dict[tuple[str, str], set[str]]:
    """By set and pace the times at which it is ready for its next uses, from the plan's figures alone."""
    times: dict[tuple[str, str], set[str]] = {}
    for reuse in found.plan.reuses:
        for pace, instant in ((Pace.USUAL, reuse.ready), (Pace.LEAST, reuse.least_ready)):
            times.setdefault((reuse.set_id, PACE_WORDS[pace]), set()).update(
                (found.clock.hhmm(instant), found.clock.stamp(instant))
            )
    for run in found.plan.department.runs if found.plan.department else ():
        times.setdefault((run.set_id, PACE_WORDS[Pace.QUEUE]), set()).update(
            (found.clock.hhmm(run.ready), found.clock.stamp(run.ready))
        )
    return times


@pytest.mark.parametrize("seed", SEEDS[: tries(len(SEEDS), 2)])
def test_every_ready_time_has_its_pace_and_there_is_one_for_each(seed: int) -> None:
    found = Lookup(seeded_day(seed))
    times, ids = true_times(found), sorted((one.id for one in found.plan.sets), key=len, reverse=True)
    named = re.compile("|".join(rf"\b{re.escape(one)}\b" for one in ids))
    passed_on = {(reuse.set_id, reuse.giver) for reuse in found.plan.reuses}
    after_last: dict[tuple[str, str, str], set[str]] = {}
    passing: list[tuple[str, str, str, str]] = []
    seen = dict.fromkeys(PACE_WORDS.values(), 0)
    for around, text in everything_said(found):
        assert not BARE.search(text), text
        for match in PACED.finditer(text):
            before = named.findall(text[: match.start()])
            one = before[-1] if before else around
            seen[match[2]] += 1
            givers = LAST_WITH.findall(text[: match.start()])
            if givers and (one, givers[-1]) not in passed_on:  # nobody waits for it: the papers must agree
                after_last.setdefault((one, givers[-1], match[2]), set()).add(match[1])
            elif (one, match[2]) in times and not text.startswith(("Case", "At ")):
                passing.append((one, match[2], match[1], text))
    assert after_last
    assert [key for key, said in after_last.items() if len({time.split()[-1] for time in said}) > 1] == []
    last = {(one, pace): set[str]() for one, _, pace in after_last}
    for (one, _, pace), said in after_last.items():
        last[one, pace] |= said
    for one, pace, time, text in passing:
        assert time in times[one, pace] | last.get((one, pace), set()), (one, text)
    assert all(seen.values())
    answer, after = tried_on(seed)
    assert [(one.id, one.facts) for one in answer.before] == [(one.id, one.facts) for one in found.plan.conflicts]
    changed = (*answer.tried.new, *answer.tried.worse, *answer.tried.milder)
    assert [
        one.id for one in (*answer.tried.gone, *changed) if statement(one, found.clock) not in "".join(answer.lines)
    ] == []
    assert answer.tried.gone
    for conflicts, true in ((answer.tried.gone, times), (changed, true_times(Lookup(after)))):
        for conflict in conflicts:
            text = statement(conflict, found.clock)
            assert not BARE.search(text)
            for match in PACED.finditer(text):
                one = (named.findall(text[: match.start()]) or [conflict.set_id])[-1]
                assert match[1] in true[one, match[2]], text
