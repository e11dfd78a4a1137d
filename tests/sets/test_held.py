"""A set on a built cart stays there, unless only another case's need can take it off."""

from __future__ import annotations

from picklist.model.schedule import Case
from picklist.model.site import Site
from picklist.model.uses import Use
from picklist.sets.case_uses import case_times
from picklist.sets.plan_sets import plan_sets
from tests.builders import at, case, copies, straight_route, tray, utc_settings

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


def test_a_set_that_is_not_known_any_more_holds_nothing() -> None:
    cases = (case("C1", "08:00", 60),)
    assert given(cases, 1, {"C1/wrist/1": "gone-07"}) == {"C1": "wrist-01"}
