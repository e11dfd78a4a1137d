"""Every remedy that is shown, written as words and tried: what the sheet promises is what ``try`` then says.

On seeded evenings of our own, with two buildings, sides, stand-ins, loans, holds and sets on their way.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from picklist.department import run_department
from picklist.model.conflicts import Conflict, ConflictKind, Edit, Remedy, RemedyKind, conflicts_in
from picklist.plan.make import add_queue
from picklist.plan.queue_check import QueueCheck
from picklist.plan.queue_remedies import add_queue_remedies
from picklist.sets.plan_sets import add_remedies, compose, make_planned_day
from picklist.sets.remedies.trial import Trials
from picklist.tasks.try_out import Evening, try_edits
from picklist.wording.edits import read_edit, write_edit
from tests.builders import DAY
from tests.patience import tries
from tests.sets.random_sites import random_evening


def tonight(seed: int) -> tuple[Evening, tuple[Conflict, ...]]:
    """An evening as it is tried on, and its conflicts with their remedies."""
    one = random_evening(f"remedies {seed}", cases=9)
    planned = make_planned_day(one.site, one.uses, one.now)
    sets = compose(planned)
    run = run_department(one.site, sets.assignments, one.now)
    clusters, check = add_queue(one.site, sets, one.now, run), QueueCheck(one.site, planned, run, one.now)
    shown = add_queue_remedies(Trials(planned, check), check, add_remedies(planned, clusters, check))
    evening = Evening(
        site=one.site, now=one.now, planned=planned, sets=sets, run=run, conflicts=conflicts_in(clusters), chances=None
    )
    return evening, conflicts_in(shown)


def read_again(evening: Evening, edit: Edit) -> Edit:
    """The edit in words, read as ``try`` reads it."""
    days = {case.number: case.day for case in evening.site.cases}
    words = write_edit(edit, evening.site.settings.site_clock, days.get(edit.case, DAY))
    found, problems = read_edit(evening.site, words, DAY)
    assert found is not None, (words, problems)
    if edit.kind is not RemedyKind.DIRECT:  # there by wheels-in, which the words need not say
        assert found.start == edit.start
    return found


def keeps_its_promise(evening: Evening, conflict: Conflict, remedy: Remedy) -> None:
    tried = try_edits(evening, tuple(read_again(evening, edit) for edit in remedy.edits))
    before, after = ({one.id: one for one in some} for some in (tried.before, tried.after))
    assert tried.tried.objection is None, remedy.text
    assert conflict.id not in after or after[conflict.id].kind is ConflictKind.TIGHT, remedy.text
    assert not tried.tried.new, remedy.text
    assert not tried.tried.worse, remedy.text
    gone = {key for key in before if key not in after or after[key].kind is ConflictKind.TIGHT}
    assert set(remedy.removes) <= gone, remedy.text
    assert remedy.until is None or remedy.until >= evening.now


@pytest.mark.parametrize("seed", range(tries(40, 5)))
def test_a_remedy_that_is_tried_gives_what_it_says_and_harms_nothing(seed: int) -> None:
    evening, conflicts = tonight(seed)
    for conflict in conflicts:
        for remedy in conflict.remedies:
            keeps_its_promise(evening, conflict, remedy)


def test_a_remedy_that_does_not_hold_is_seen() -> None:
    """So that the check above is one: a set that comes a day too late is no help."""
    evening, conflicts = tonight(1)
    one, remedy = next((c, r) for c in conflicts for r in c.remedies if r.edits[0].kind is RemedyKind.BRING)
    start = remedy.edits[0].start
    assert start is not None
    late = replace(remedy.edits[0], start=start.replace(day=start.day + 1))
    with pytest.raises(AssertionError):
        keeps_its_promise(evening, one, replace(remedy, edits=(late,)))
