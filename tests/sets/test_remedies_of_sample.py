"""The remedies of the sample evening, each applied to the site's sheets and the whole planned from nothing."""

from __future__ import annotations

import random
import re
from dataclasses import replace
from datetime import timedelta
from functools import cache

from picklist.model.conflicts import Conflict, ConflictKind, Edit, RemedyKind
from picklist.model.sets import SetState
from picklist.model.uses import Use
from picklist.resolve import resolve_cases
from picklist.sets.case_uses import make_uses
from picklist.sets.plan_sets import SetsPlan, live_cases, plan_sets
from tests.builders import at
from tests.kept import sample_read
from tests.patience import tries
from tests.sets.random_sites import Evening
from tests.sets.remedies_apart import (
    Trouble,
    forbidden,
    moves_of,
    removes,
    troubles,
    with_moves,
    with_one_more,
    with_route,
)

CHOSEN = tries(30, 8)  # of some fifty


@cache
def sample() -> tuple[Evening, SetsPlan]:
    site, _ = sample_read()
    assert site is not None
    cases = live_cases(site)
    clock = site.settings.site_clock
    evening = Evening(
        site=site,
        uses=make_uses(site, resolve_cases(site, cases), cases),
        now=clock.instant(at("18:00", -1).date(), at("18:00").time()),
    )
    return evening, plan_sets(site, evening.uses, evening.now)


def test_each_remedy_removes_what_it_says_and_makes_no_conflict() -> None:
    evening, plan = sample()
    before = troubles(evening)
    every = [(one, remedy) for one in plan.conflicts for remedy in one.remedies]
    assert len(every) > 30
    for conflict, remedy in random.Random("sample").sample(every, CHOSEN):
        (edit,) = remedy.edits
        after, moved = applied(evening, conflict, edit)
        if edit.kind is RemedyKind.ACCEPT and edit.start is None:
            assert after.pop(conflict.id).kind is ConflictKind.RESERVE
        assert removes(before, after, conflict.id, moved), (conflict.id, remedy.text)
        gone = {key for key in before if key not in after or (after[key].kind != before[key].kind == conflict.kind)}
        assert gone <= set(remedy.removes), (conflict.id, remedy.text)


def applied(evening: Evening, conflict: Conflict, edit: Edit) -> tuple[dict[str, Trouble], set[str]]:
    """What is then in conflict, and which cases have moved. Of a hurried tray all sets are hurried."""
    if edit.kind is RemedyKind.BRING:
        use = next(one for one in evening.uses if (one.case, one.tray) == (edit.case, edit.tray))
        return troubles(with_one_more(evening, use)), set()
    if edit.kind is RemedyKind.WITHOUT:
        uses = [one for one in evening.uses if not (one.on_hold and (one.case, one.tray) == (edit.case, edit.tray))]
        return troubles(replace(evening, uses=tuple(uses))), {edit.case}
    if edit.kind in (RemedyKind.DIRECT, RemedyKind.ACCEPT):
        late = [replace(one, needed=edit.start or one.needed) for one in evening.uses if waits(one, edit)]
        others = [one for one in evening.uses if not waits(one, edit)]
        return troubles(replace(evening, uses=tuple(sorted([*others, *late], key=lambda one: one.needed)))), set()
    if edit.kind is RemedyKind.COMPLETE:
        ready = replace(evening.site.sets[edit.set_id], state=SetState.ON_SHELF)
        return troubles(
            replace(evening, site=replace(evening.site, sets={**evening.site.sets, ready.id: ready}))
        ), set()
    if edit.kind is RemedyKind.FASTER:
        return troubles(with_route(evening, edit.tray, edit.step, edit.minutes)), set()
    moves = moves_of(evening, edit)
    assert not forbidden(evening, moves), (conflict.id, edit)
    return troubles(with_moves(evening, moves)), set(moves)


def waits(use: Use, edit: Edit) -> bool:
    return (use.case, use.tray) == (edit.case, edit.tray)


def test_a_remedy_of_two_trays_of_one_case_says_so() -> None:
    """C-4120 waits for two trays that one case gives back late: to move it helps both."""
    _, plan = sample()
    hips = [one for one in plan.conflicts if one.waiter == "C-4120"]
    assert {one.id for one in hips} == {"C-4120/T-HIP", "C-4120/T-HIPRM"}
    for one in hips:
        moved = [r for r in one.remedies if r.edits[0].kind in (RemedyKind.SHIFT, RemedyKind.ROOM)]
        assert moved
        assert all(set(r.removes) == {other.id for other in hips} for r in moved)


def test_hurry_is_waiting_saved_and_never_a_process_cut() -> None:
    _, plan = sample()
    hurried = [r for one in plan.conflicts for r in one.remedies if r.edits[0].kind is RemedyKind.FASTER]
    assert hurried
    for remedy in hurried:
        (edit,) = remedy.edits
        assert f"{edit.minutes} min" in remedy.text
        said = re.search(rf"\b{edit.step}\b[^;(]*\(usual (\d+) min, minimum (\d+) min\)", remedy.text)
        assert said is not None
        assert int(said[1]) - edit.minutes >= int(said[2])


def test_minutes_that_may_be_saved_anywhere_on_a_sets_way_are_one_remedy() -> None:
    _, plan = sample()
    for one in plan.conflicts:
        hurried = [r.edits[0] for r in one.remedies if r.edits[0].kind is RemedyKind.FASTER]
        assert len({(edit.case, edit.tray) for edit in hurried}) == len(hurried)


def test_each_remedy_says_until_when_and_the_conflict_ends_with_the_last() -> None:
    """A remedy that moves a case is over when its cart is due, where it was or where it goes, whichever is first."""
    evening, plan = sample()
    lead = evening.site.settings.setup_lead
    cases = {one.number: one for one in evening.site.cases}
    for one in plan.conflicts:
        untils = [remedy.until for remedy in one.remedies if remedy.until]
        assert len(untils) == len(one.remedies)
        assert not untils or one.decide_by == max(untils)
        for remedy, until in zip(one.remedies, untils, strict=True):
            assert until >= evening.now
            for edit in remedy.edits:
                if edit.kind in (RemedyKind.SHIFT, RemedyKind.ROOM):
                    starts = [cases[edit.case].start, edit.start or cases[edit.case].start]
                    assert until <= min(starts) - timedelta(minutes=lead)
        loss = one.first_loss
        if loss:
            assert loss == (min(untils), sum(until > min(untils) for until in untils))
    assert any(one.first_loss for one in plan.conflicts)
