"""What crews found on shelves against the tables, and sets that leave built carts of other days."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from picklist.model.built import CountFound
from picklist.model.catalogue import Lot
from picklist.model.plan import Plan
from picklist.model.sets import SetState
from picklist.model.supply import Pick
from picklist.plan import OnCarts, PlanRequest, make_plan
from tests.builders import DAY, at, case
from tests.plan.nights import hospital, shelf


def kinds(plan: Plan) -> list[str]:
    found = ("set not found", "counted otherwise", "set leaves a built cart")
    return [problem.kind for problem in plan.problems if problem.kind in found]


@pytest.mark.parametrize(
    ("state", "fixed", "said"),
    [
        (SetState.ON_SHELF, {}, ["set not found"]),
        (SetState.ON_SHELF, {"C1/wrist/1": "WR-01"}, []),
        (SetState.UNKNOWN, {}, []),
    ],
)
def test_a_set_that_was_reported_missing_is_named_until_its_row_or_another_report_says_where_it_is(
    state: SetState, fixed: dict[str, str], said: list[str]
) -> None:
    site = hospital([case("C1", "08:00", 60, "OR 1")], [shelf("WR-01", state=state)])
    there = OnCarts(missed={"WR-01": "C1"}, fixed=fixed)
    order = PlanRequest(day=DAY, now=at("18:00", -1), on_carts=there, with_chance=False, with_remedies=False)
    assert kinds(make_plan(site, (), order)) == said


@pytest.mark.parametrize(("counted", "said"), [(31, 1), (35, 0), (40, 0), (41, 1)])
def test_a_count_is_named_where_the_row_cannot_say_the_same(counted: int, said: int) -> None:
    """The row has 40 laps, five of which are on built carts: 35 to 40 may have lain there when the crew came."""
    site = replace(hospital([], []), lots=(Lot(item="laps", lot="L1", quantity=40, expiry=None, place="A-1"),))
    pick = Pick(case="C1", item="laps", lot="L1", place="A-1", expiry=None, open=4, hold=1)
    there = OnCarts(counts=(CountFound(item="laps", lot="L1", quantity=counted),), picks=(pick,))
    order = PlanRequest(day=DAY, now=at("18:00", -1), on_carts=there, with_chance=False, with_remedies=False)
    assert kinds(make_plan(site, (), order)) == ["counted otherwise"] * said


@pytest.mark.parametrize(("sets", "said"), [(("WR-01",), ["set leaves a built cart"]), (("WR-01", "WR-02"), [])])
def test_a_set_that_leaves_a_built_cart_of_a_later_day_is_named(sets: tuple[str, ...], said: list[str]) -> None:
    """C2 of the day after is built with WR-01; C1 gets it before where there is no other."""
    later = replace(case("C2", "08:00", 60, "OR 1"), day=DAY + timedelta(days=1), start=at("08:00", 1))
    site = hospital([case("C1", "08:00", 60, "OR 1"), later], [shelf(one) for one in sets])
    there = OnCarts(fixed={"C2/wrist/1": "WR-01"})
    order = PlanRequest(day=DAY, now=at("18:00", -1), on_carts=there, with_chance=False, with_remedies=False)
    assert kinds(make_plan(site, (), order)) == said
