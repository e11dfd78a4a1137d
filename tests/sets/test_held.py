"""A set on a built cart stays there, unless only another case's need can take it off."""

from __future__ import annotations

from dataclasses import replace

import pytest

from picklist.model.conflicts import ConflictKind, Edit, RemedyKind
from picklist.model.schedule import Case, CaseStatus
from picklist.model.sets import SetState
from picklist.model.site import Site
from picklist.model.uses import Use
from picklist.sets.case_uses import case_times
from picklist.sets.plan_sets import SetsPlan, compose, make_planned_day, mark_sets_to_put_back, plan_sets
from picklist.sets.try_change import try_change
from tests.builders import at, case, copies, says, says_of_sets, straight_route, tray, utc_settings

NOW = at("18:00", -1)


def site(cases: tuple[Case, ...], sets: int) -> Site:
    return Site(
        settings=utc_settings(),
        cases=cases,
        trays={"wrist": tray("wrist")},
        sets=copies("wrist", sets),
        routes={"R": straight_route("R", ("turn", 190, 190))},
    )


def use(one: Case) -> Use:
    times = case_times(utc_settings(), one)
    return Use(
        case=one.number,
        tray="wrist",
        copy=1,
        needed=times.needed,
        starts=times.starts,
        ends=times.ends,
        leaves_room=times.leaves_room,
        received=times.received,
        weight=one.priority,
    )


def given(cases: tuple[Case, ...], sets: int, held: dict[str, str]) -> dict[str, str]:
    plan = plan_sets(site(cases, sets), [use(one) for one in cases], NOW, held=held, remedies=False)
    return {one.use.case: one.set_id for one in plan.assignments}


def test_each_built_cart_keeps_its_set_whatever_the_order_of_the_shelf() -> None:
    cases = (case("C1", "08:00", 60), case("C2", "08:30", 60, "OR 2"), case("C3", "09:00", 60, "OR 3"))
    for first, second in (("wrist-01", "wrist-02"), ("wrist-03", "wrist-01"), ("wrist-02", "wrist-03")):
        told = given(cases, 3, {"C1/wrist/1": first, "C3/wrist/1": second})
        assert (told["C1"], told["C3"]) == (first, second)
        assert told["C2"] not in ("", first, second)


def test_a_built_cart_keeps_its_set_though_another_one_would_leave_more_slack() -> None:
    # Ready again at 12:20 from C1 and at 13:50 from C2; C3 needs its set at 14:30.
    cases = (case("C1", "08:00", 60), case("C2", "09:30", 60, "OR 2"), case("C3", "15:00", 60, "OR 3"))
    assert given(cases, 2, {})["C3"] != ""
    for held in ("wrist-01", "wrist-02"):
        assert given(cases, 2, {"C3/wrist/1": held})["C3"] == held


def test_a_set_leaves_a_built_cart_when_it_must_serve_a_case_of_greater_priority() -> None:
    cases = (case("C1", "08:00", 60), case("C2", "08:30", 60, "OR 2", priority=5))
    told = given(cases, 1, {"C1/wrist/1": "wrist-01"})
    assert told == {"C1": "", "C2": "wrist-01"}


def test_a_set_stays_on_its_built_cart_for_a_later_case_where_an_earlier_one_of_no_greater_priority_wants_it() -> None:
    cases = (case("C1", "08:00", 60), case("C2", "08:30", 60, "OR 2"))
    assert given(cases, 1, {"C2/wrist/1": "wrist-01"}) == {"C1": "", "C2": "wrist-01"}
    plan = plan_sets(site(cases, 1), [use(one) for one in cases], NOW, held={"C2/wrist/1": "wrist-01"}, remedies=False)
    (short,) = plan.conflicts
    assert "This case goes without, because then fewer sets are taken off built carts." in says(short)


def test_a_set_is_not_taken_off_a_built_cart_for_an_earlier_case_that_another_set_can_serve() -> None:
    """Dirty at 18:00, wrist-02 is ready 21:10, 10 h 20 min before C1; after C1 wrist-01 would have 11 h for C3."""
    cases = (case("C1", "08:00", 60), case("C3", "23:50", 60, "OR 3"))
    held, uses, day = {"C3/wrist/1": "wrist-01"}, [use(one) for one in cases], site(cases, 2)
    sets = {**day.sets, "wrist-02": replace(day.sets["wrist-02"], state=SetState.DIRTY)}
    plan = plan_sets(replace(day, sets=sets), uses, NOW, held=held, remedies=False)
    assert {one.use.case: one.set_id for one in plan.assignments} == {"C1": "wrist-02", "C3": "wrist-01"}
    # It is taken only where a case would go without.
    assert given(cases, 1, held) == {"C1": "wrist-01", "C3": "wrist-01"}


def test_a_set_that_is_not_known_any_more_holds_nothing() -> None:
    cases = (case("C1", "08:00", 60),)
    assert given(cases, 1, {"C1/wrist/1": "gone-07"}) == {"C1": "wrist-01"}


def off_the_cart_of_c1(start: str, now: str, sets: int = 1) -> SetsPlan:
    """A wrist set stands on the cart of case C1, which is cancelled; C2 needs one 30 minutes before its start."""
    day = site((case("C2", start, 60, "OR 2"),), sets)
    uses = [use(one) for one in day.cases]
    return plan_sets(mark_sets_to_put_back(day, uses, {}, {"wrist-01": "C1"}), uses, at(now), remedies=False)


def test_a_set_on_the_cart_of_a_cancelled_case_is_ready_once_it_is_put_back() -> None:
    """At 10:00, with the 15 minutes of a put-back, for a cart due at 10:10; 10 minutes later it makes it."""
    short = off_the_cart_of_c1("10:40", "10:00")
    (conflict,) = short.conflicts
    assert (conflict.kind, conflict.minutes, conflict.set_id) == (ConflictKind.SHORT, 5, "wrist-01")
    said = "on the cart of case C1 (to be put back first), ready 10:15 at usual pace"
    assert says_of_sets(conflict) == {"wrist-01": said}
    assert "The soonest is wrist-01, ready 10:15 at usual pace: 5 min short." in says(conflict)
    tight = off_the_cart_of_c1("10:50", "10:00")
    assert [(one.kind, one.minutes) for one in tight.conflicts] == [(ConflictKind.TIGHT, 5)]
    (reuse,) = tight.reuses
    assert (reuse.released, reuse.ready, reuse.least_ready) == (at("10:15"), at("10:15"), at("10:15"))
    assert [(one.act, one.latest) for one in reuse.deadlines] == [
        ("off its cart", at("10:05")),
        ("on the cart", at("10:20")),
    ]


def test_a_set_on_the_shelf_goes_before_one_that_must_be_put_back() -> None:
    plan = off_the_cart_of_c1("10:40", "10:00", sets=2)
    assert [one.set_id for one in plan.assignments] == ["wrist-02"]
    assert not plan.conflicts


@pytest.mark.parametrize("kind", [RemedyKind.CANCEL, RemedyKind.WITHOUT])
def test_a_case_that_is_tried_without_its_set_gives_it_once_it_is_put_back_from_its_built_cart(
    kind: RemedyKind,
) -> None:
    """As a build says it after that: at 10:00, with the 15 minutes of a put-back, for a cart due at 10:10."""
    day = site((case("C1", "12:00", 60), case("C2", "10:40", 60, "OR 2")), 1)
    uses = [replace(use(one), on_hold=one.number == "C1", weight=2 if one.number == "C1" else 1) for one in day.cases]
    planned = make_planned_day(day, uses, at("10:00"), {"C1/wrist/1": "wrist-01"})
    tried = try_change(planned, compose(planned), (Edit(kind=kind, case="C1", tray="wrist"),))
    assert [(one.kind, one.minutes) for one in tried.after.conflicts] == [(ConflictKind.SHORT, 5)]


def test_in_the_evening_before_a_put_back_troubles_nobody() -> None:
    plan = off_the_cart_of_c1("10:40", "05:00")
    assert not plan.conflicts
    assert [one.expected for one in plan.assignments] == [at("05:15")]


@pytest.mark.parametrize("number", ["C1", "2026/1"])
def test_a_set_on_a_cart_that_needs_its_tray_no_more_is_put_back_as_well(number: str) -> None:
    day = site((case(number, "12:00", 60), case("C2", "10:40", 60, "OR 2")), 1)
    uses, held = [use(day.cases[1])], {f"{number}/wrist/1": "wrist-01"}
    marked = mark_sets_to_put_back(day, uses, held, {})
    (conflict,) = plan_sets(marked, uses, at("10:00"), remedies=False).conflicts
    assert (conflict.waiter, conflict.minutes) == ("C2", 5)
    # Its list is stopped: what is on its cart stays there. And what it still needs is not put back.
    assert mark_sets_to_put_back(day, uses, held, {}, stopped=(number,)) == day
    assert mark_sets_to_put_back(day, [use(one) for one in day.cases], held, {}) == day


def test_a_set_on_a_cart_that_is_left_alone_is_not_given_because_a_number_begins_like_that_of_another_case() -> None:
    cases = (case("C1", "08:00", 60), case("C1/B", "09:00", 60, "OR 2", status=CaseStatus.CANCELLED))
    plan = plan_sets(site(cases, 1), [use(cases[0])], NOW, held={"C1/B/wrist/1": "wrist-01"}, remedies=False)
    assert [one.set_id for one in plan.assignments] == [""]


def test_a_set_on_a_cart_is_that_of_its_case_though_the_id_of_its_tray_holds_a_slash() -> None:
    """``C1/B/wrist`` is tray B/wrist of case C1, which lacks it, not tray wrist of case C1/B, which is cancelled."""
    cases = (case("C1", "08:00", 60), case("C1/B", "09:00", 60, "OR 2", status=CaseStatus.CANCELLED))
    day = replace(site(cases, 0), trays={"B/wrist": tray("B/wrist")}, sets=copies("B/wrist", 1))
    (one,) = day.sets
    asked = replace(use(cases[0]), tray="B/wrist")
    plan = plan_sets(day, [asked], NOW, held={asked.key: one}, remedies=False)
    assert [given.set_id for given in plan.assignments] == [one]


def test_a_set_that_is_on_another_cart_by_now_is_not_put_back() -> None:
    day = site((case("C2", "10:40", 60, "OR 2"),), 1)
    uses = [use(one) for one in day.cases]
    held = {"C2/wrist/1": "wrist-01"}
    assert mark_sets_to_put_back(day, uses, held, {"wrist-01": "C1"}) == day
