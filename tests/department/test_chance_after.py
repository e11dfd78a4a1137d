"""The chance that a change leaves to a use: the plan's own chances on the same draws, and the lognormal's tail."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from scipy import stats

from picklist.clock import SiteClock
from picklist.department import ChanceAfter, draw_chances, run_department
from picklist.department.chance_after import cases_before
from picklist.model.conflicts import ChanceLeft, Edit, RemedyKind
from picklist.model.schedule import Case
from picklist.model.site import Site
from picklist.sets.allocate_group import assignments_of
from picklist.sets.plan_sets import compose, make_planned_day
from picklist.sets.remedies.planned_day import PlannedDay, apply_edits
from picklist.sets.try_change import with_edits
from tests.builders import at, case, straight_route
from tests.department.first_case import ends_beyond
from tests.department.test_chance import busy_day
from tests.department.ward import use, ward

NIGHT = at("00:00")
PLAIN = straight_route("R", ("wash", 120, 100), ("steam", 70, 60))
GIVER, WAITER = case("11", "07:30", 120), case("21", "14:00", 60, "OR 2")
KEY = "21/WRIST/1"


def planned(site: Site, *wanted: tuple[Case, str]) -> PlannedDay:
    return make_planned_day(site, [use(site, one, tray) for one, tray in wanted], NIGHT)


def pair_day() -> tuple[Site, PlannedDay]:
    """One wrist set for two cases: back at 09:40, ready 12:50 (hurried 12:20), needed 13:30."""
    site = ward({"WRIST": 1}, cases=(GIVER, WAITER), route=PLAIN, draws=40000)
    return site, planned(site, (GIVER, "WRIST"), (WAITER, "WRIST"))


def left(site: Site, day: PlannedDay, *edits: Edit, key: str = KEY) -> ChanceLeft | None:
    return ChanceAfter(site, NIGHT)(with_edits(day, apply_edits(day, edits)), key)


def test_that_a_later_start_leaves_the_tail_beyond_it() -> None:
    """It fails when the giver ends over 40 minutes late, hurried over 70; with 30 minutes more over 70 and 100."""
    site, day = pair_day()
    later = Edit(kind=RemedyKind.SHIFT, case="21", start=at("14:30"))
    near = 4 * (0.25 / 40000) ** 0.5
    for found, usual, hurried in ((left(site, day), 160, 190), (left(site, day, later), 190, 220)):
        assert found is not None
        assert found.usual == pytest.approx(ends_beyond(120, usual), abs=near)
        assert found.hurried == pytest.approx(ends_beyond(120, hurried), abs=near)


def test_that_a_step_done_faster_leaves_less() -> None:
    site, day = pair_day()
    faster = Edit(kind=RemedyKind.FASTER, case="21", tray="WRIST", step="wash", minutes=20)
    found = left(site, day, faster)
    assert found is not None
    assert found.usual == pytest.approx(ends_beyond(120, 180), abs=0.01)


def test_that_nothing_is_left_to_chance_with_a_set_on_the_shelf_or_without_the_use() -> None:
    site, day = pair_day()
    two = ward({"WRIST": 2}, cases=(GIVER, WAITER), route=PLAIN)
    assert left(two, planned(two, (GIVER, "WRIST"), (WAITER, "WRIST"))) is None
    assert left(site, day, Edit(kind=RemedyKind.CANCEL, case="21")) is None
    still = ward({"WRIST": 1}, cases=(GIVER, WAITER), route=PLAIN, draws=0)
    assert left(still, day) is None


def test_that_a_set_brought_from_elsewhere_may_come_late() -> None:
    """Due at 12:00 and needed at 13:30; assumed without a source: one in four late, half of these by over an hour."""
    site, day = pair_day()
    found = left(site, day, Edit(kind=RemedyKind.BRING, case="21", tray="WRIST", start=at("12:00")))
    assert found is not None
    assert found.usual == pytest.approx(0.25 * stats.lognorm(1.0, scale=60).sf(90.5), abs=0.008)


def test_that_a_use_without_a_set_always_fails() -> None:
    both = (GIVER, case("12", "07:30", 60, "OR 2"))
    site = ward({"WRIST": 1}, cases=both, route=PLAIN)
    day = planned(site, *((one, "WRIST") for one in both))
    lacking = next(use.key for plan in day.plans.values() for use, _ in plan.unserved)
    assert left(site, day, key=lacking) == ChanceLeft(usual=1.0, hurried=1.0)


@pytest.mark.parametrize("seed", range(3))
def test_that_without_a_change_it_is_the_chance_of_the_plan(seed: int) -> None:
    """Fourteen cases of four rooms; only the cases before a use are drawn, and the figures are the same."""
    site, chains = busy_day(seed)
    day = planned(site, *((one, "WRIST") for _, chain in chains for one in chain))
    sets = compose(day)
    run = run_department(site, [one for plan in day.plans.values() for one in assignments_of(plan)], NIGHT)
    plan = draw_chances(site, site.cases, sets.assignments, sets.reuses, NIGHT, draws=2000, seed=1, department=run)
    after = ChanceAfter(site, NIGHT, run)
    keys = {(one.set_id, one.waiter): one.waiter_use for one in sets.reuses}
    assert plan.reuses
    for one in plan.reuses:
        assert one.fails_hurried is not None
        assert after(day, keys[one.set_id, one.waiter]) == ChanceLeft(usual=one.fails, hurried=one.fails_hurried)


def numbers(cases: Sequence[Case], *givers: tuple[str, str], of: str) -> set[str]:
    known: dict[str, set[str]] = {}
    for giver, waiter in givers:
        known.setdefault(waiter, set()).add(giver)
    return set(cases_before(of, {one.number: one for one in cases}, known, SiteClock("UTC")))


def test_that_only_what_can_reach_a_case_counts() -> None:
    """Case 21 waits for 11, which case 10 pushes in its room; case 12 and the case after 21 cannot reach it."""
    day = [
        case("10", "07:30", 60),
        case("11", "09:00", 60),
        case("12", "11:00", 60),
        case("21", "14:00", 60, "OR 2"),
        case("22", "16:00", 60, "OR 2"),
    ]
    assert numbers(day, ("11", "21"), of="21") == {"10", "11", "21"}
