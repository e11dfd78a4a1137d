"""One case is cancelled: only lists that must change are printed again, and the plan is as good as a fresh one."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import date
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from picklist.documents.plan_json import plan_from_json
from picklist.evening.changes import PlanChange
from picklist.evening.content import cart_content
from picklist.evening.details import must_reprint
from picklist.evening.revise import Schedule, begin_revision, what_changes
from picklist.model.expiry import Expiry, is_past
from picklist.model.plan import Plan
from picklist.model.schedule import Case
from picklist.plan import PlanRequest, make_plan
from picklist.store.state import open_state
from tests.evening.test_sample_evening import DAY, build, changed, evening, sample
from tests.patience import tries

CANCELLED = (0, 5, 20)[: tries(3, 2)]


def cases() -> list[Case]:
    return sorted((one for one in sample().cases if one.day == DAY), key=lambda one: (one.start, one.number))


@cache
def after_cancelling(which: int) -> tuple[Plan, Plan, Plan, PlanChange]:
    """The printed plan; then without one case, with and without regard to what is printed; and what changes."""
    gone = cases()[which].number
    site = changed(lambda case: None if case.number == gone else case)
    with TemporaryDirectory() as home, open_state(Path(home) / "s.picklist.sqlite") as state:
        first, _ = build(state, sample(), evening("18:40"))
        start = begin_revision(
            state, DAY, Schedule.of(site, [one for one in site.cases if one.day == DAY]), plan_from_json
        )
    fresh = PlanRequest(day=DAY, now=evening("18:50"), revision=2, replaces=1, with_chance=False, with_remedies=False)
    kept = make_plan(site, (), replace(fresh, on_carts=start.standing))
    return first, kept, make_plan(site, (), fresh), what_changes(start, kept)


def taken(plan: Plan) -> Counter[tuple[str, date, Expiry]]:
    """How much of each item is taken on the day, by expiry."""
    count: Counter[tuple[str, date, Expiry]] = Counter()
    for cart in plan.carts:
        for piece, quantity in cart_content(cart, {}).items():
            if not piece.set_id:
                assert not is_past(piece.expiry, cart.case.day)
                count[piece.thing, cart.case.day, piece.expiry] += quantity
    return count


@pytest.mark.parametrize("which", CANCELLED)
def test_that_the_plan_is_as_good_as_one_that_looks_at_no_list(which: int) -> None:
    _, kept, fresh, _ = after_cancelling(which)
    assert kept.shortages == fresh.shortages
    assert taken(kept) == taken(fresh)
    for tell in (
        lambda plan: sorted((c.kind, c.tray, c.waiter, c.minutes) for c in plan.conflicts),
        lambda plan: sorted((one.use.key, bool(one.set_id), one.tray_given, one.late) for one in plan.assignments),
    ):
        assert tell(kept) == tell(fresh)
    slacks = [min((o.slack for o in p.assignments if o.slack is not None), default=0) for p in (kept, fresh)]
    assert slacks[0] == slacks[1]


@pytest.mark.parametrize("which", CANCELLED)
def test_that_a_list_changes_only_for_what_the_cancelled_case_leaves(which: int) -> None:
    first, _, fresh, change = after_cancelling(which)
    gone = cases()[which].number
    left = cart_content(next(one for one in first.carts if one.case.number == gone), {})
    bodies = {(piece.thing, piece.set_id, piece.lot) for piece in left}
    for cart in (one for one in change.carts if one.prints):
        assert cart.add or must_reprint(cart.details)
        assert {(line.piece.thing, line.piece.set_id, line.piece.lot) for line in cart.add} <= bodies
    regardless = sum(
        cart_content(new, {}) != cart_content(old, {})
        for new in fresh.carts
        for old in first.carts
        if old.case.number == new.case.number
    )
    assert len(change.to_print()) <= regardless
