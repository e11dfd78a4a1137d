"""Worked days: what is short, rushed, tight, conditional or under the reserve, and why. Our own, not published."""

from __future__ import annotations

from dataclasses import replace
from datetime import time, timedelta

import pytest

from picklist.clock import SiteClock
from picklist.model.cards import ThingKind
from picklist.model.catalogue import Place, StandIn
from picklist.model.conflicts import Conflict, ConflictKind, RemedyKind
from picklist.model.known import conflict_key
from picklist.model.needs import CaseNeeds, Need
from picklist.model.routes import Departure, Route, Step, Transfer
from picklist.model.schedule import ONE_SIDE, Room, Side
from picklist.model.sets import InstrumentSet
from picklist.model.site import Site
from picklist.sets.case_uses import make_uses
from picklist.sets.plan_sets import SetsPlan, plan_sets
from picklist.wording.say_conflicts import depends_on, proof_opening
from tests.builders import DAY, at, case, copies, says, says_of_sets, straight_route, tray, utc_settings


def wants(case_number: str, tray_id: str, opened: int = 1, hold: int = 0) -> CaseNeeds:
    need = Need(case=case_number, kind=ThingKind.TRAY, thing=tray_id, name=tray_id, open=opened, hold=hold)
    return CaseNeeds(case=case_number, needs=(need,))


def planned(site: Site, *needs: CaseNeeds, now: str = "05:00", remedies: bool = False) -> SetsPlan:
    asked = needs or tuple(wants(one.number, next(iter(site.trays))) for one in site.cases)
    return plan_sets(site, make_uses(site, asked, site.cases), at(now), remedies=remedies)


def only(plan: SetsPlan) -> Conflict:
    assert len(plan.conflicts) == 1, [says(one) for one in plan.conflicts]
    return plan.conflicts[0]


def wrist_day(**changes: object) -> Site:
    """Two wrist sets; R3 07:30 (120), R4 08:00 (135), R3 11:15 (120); 190 minutes from receipt to shelf."""
    fields: dict[str, object] = {
        "settings": utc_settings(),
        "cases": (case("1", "07:30", 120, "R3"), case("2", "08:00", 135, "R4"), case("3", "11:15", 120, "R3")),
        "trays": {"WRIST": tray("WRIST")},
        "sets": copies("WRIST", 2),
        "routes": {"R": straight_route("R", ("wash", 60, 60), ("assemble", 30, 30), ("steam", 100, 100))},
    }
    return Site(**(fields | changes))  # type: ignore[arg-type]


def test_the_third_of_three_wrists_is_short_by_125_minutes() -> None:
    plan = planned(wrist_day())
    conflict = only(plan)
    # 85 would be the answer without lead and haul; the 08:00 case keeps its set.
    assert (conflict.kind, conflict.waiter, conflict.minutes) == (ConflictKind.SHORT, "3", 125)
    assert conflict.set_id == "WRIST-01"
    assert conflict.givers == ("1", "2")
    served = {one.use.case: one.set_id for one in plan.assignments}
    assert served == {"1": "WRIST-01", "2": "WRIST-02", "3": ""}
    missing = plan.assignments[-1]
    assert (missing.expected, missing.late) == (at("12:50"), 125)


def test_the_proof_of_the_wrist_day_names_instant_cases_and_sets() -> None:
    conflict = only(planned(wrist_day()))
    proof = conflict.proof
    assert proof is not None
    assert proof.instant == at("10:45")
    assert set(proof.overlapping) == {"1", "2", "3"}
    assert [(one.set_id, one.case, one.until) for one in proof.sets] == [
        ("WRIST-01", "1", at("12:50")),
        ("WRIST-02", "2", at("13:35")),
    ]
    assert "with case 1 until 09:30" in says_of_sets(conflict)["WRIST-01"]


def test_the_wrist_day_says_that_receipt_by_0735_would_be_needed() -> None:
    assert "reach decontamination by 07:35; its case 1 starts 07:30" in says(only(planned(wrist_day())))


def test_a_third_wrist_set_serves_everyone() -> None:
    assert not planned(wrist_day(sets=copies("WRIST", 3))).clusters


def implant_day(indicator: int) -> Site:
    steps = (
        Step(name="hand clean", usual_minutes=30, least_minutes=30),
        Step(name="wash", after=("hand clean",), usual_minutes=55, least_minutes=55),
        Step(name="assemble", after=("wash",), usual_minutes=35, least_minutes=35),
        Step(name="steam", after=("assemble",), usual_minutes=70, least_minutes=70),
        Step(name="cool", after=("steam",), usual_minutes=45, least_minutes=45),
        Step(name="indicator", after=("steam",), usual_minutes=indicator + 10, least_minutes=indicator + 10),
    )
    return Site(
        settings=utc_settings(),
        cases=(case("1", "07:30", 90), case("2", "14:00", 60)),
        trays={"IMPL": tray("IMPL")},
        sets=copies("IMPL", 1),
        routes={"R": Route(id="R", steps=steps)},
    )


def test_a_quick_indicator_beside_the_cooling_leaves_25_minutes() -> None:
    # Adding the indicator to the cooling would wrongly make it 9 short.
    conflict = only(planned(implant_day(24)))
    assert (conflict.kind, conflict.minutes) == (ConflictKind.TIGHT, 25)


@pytest.mark.parametrize(("next_start", "knock_on"), [("15:34", ("3",)), ("15:35", ())])
def test_a_tight_case_is_taken_to_be_late_by_what_it_lacks_of_the_margin(
    next_start: str, knock_on: tuple[str, ...]
) -> None:
    """25 to spare of a margin of 30 lacks 5: case 2 ends 15:05 instead of 15:00, and its room is ready 15:35."""
    site = implant_day(24)
    site = replace(site, cases=(*site.cases, case("3", next_start, 60)))
    plan = planned(site, wants("1", "IMPL"), wants("2", "IMPL"))
    assert (only(plan).kind, only(plan).knock_on) == (ConflictKind.TIGHT, knock_on)


def test_a_slow_indicator_is_short_by_120_minutes() -> None:
    plan = planned(implant_day(180))
    conflict = only(plan)
    assert (conflict.kind, conflict.minutes) == (ConflictKind.SHORT, 120)
    assert plan.assignments[-1].expected == at("15:30")


def off_site_day(first_minutes: int) -> Site:
    steps = (
        Step(name="pack", usual_minutes=15, least_minutes=15, in_room=True),
        Step(name="out", after=("pack",), run="out", usual_minutes=40, least_minutes=40),
        Step(name="process", after=("out",), usual_minutes=200, least_minutes=200),
        Step(name="back", after=("process",), run="back", usual_minutes=40, least_minutes=40),
        Step(name="store", after=("back",), usual_minutes=20, least_minutes=20),
    )
    runs = {"out": ("10:00", "13:00", "17:00", "21:00"), "back": ("15:00", "18:00", "21:30", "05:00")}
    departures = tuple(
        Departure(run=run, weekday=day, leaves=time.fromisoformat(leaves))
        for run, times in runs.items()
        for leaves in times
        for day in range(7)
    )
    return Site(
        settings=utc_settings(),
        cases=(case("1", "10:00", first_minutes), case("2", "19:45", 60)),
        trays={"FAR": tray("FAR")},
        sets=copies("FAR", 1),
        routes={"R": Route(id="R", steps=steps)},
        departures=departures,
    )


def test_out_of_the_room_in_time_for_the_run_is_tight() -> None:
    conflict = only(planned(off_site_day(140)))
    assert (conflict.kind, conflict.minutes) == (ConflictKind.TIGHT, 15)
    # The last patient-out that still makes it.
    assert conflict.decide_by == at("12:45")


def test_half_an_hour_later_the_run_is_missed_and_195_minutes_are_short() -> None:
    plan = planned(off_site_day(170))
    conflict = only(plan)
    assert (conflict.kind, conflict.minutes) == (ConflictKind.SHORT, 195)
    assert plan.assignments[-1].expected == at("22:30")


def vascular_day() -> Site:
    return wrist_day(
        cases=(case("1", "07:30", 150), case("2", "12:00", 60)),
        trays={"VASC": tray("VASC")},
        sets=copies("VASC", 1),
    )


def test_a_set_on_hold_makes_the_conflict_conditional() -> None:
    plan = planned(vascular_day(), wants("1", "VASC", 0, 1), wants("2", "VASC"))
    conflict = only(plan)
    assert (conflict.kind, conflict.waiter, conflict.givers, conflict.minutes) == (
        ConflictKind.CONDITIONAL,
        "2",
        ("1",),
        110,
    )
    reuse = plan.reuses[0]
    assert (reuse.if_unopened_ready, reuse.if_unopened_slack) == (at("10:15"), 75)
    assert (reuse.ready, reuse.slack) == (at("13:20"), -110)
    assert conflict.decide_by == at("07:30")
    assert depends_on(conflict) == "whether case 1 opens VASC-01, which it has on hold"


def rush_day(usual: int) -> Site:
    return wrist_day(
        cases=(case("1", "07:30", 120), case("2", "13:00", 60)),
        sets=copies("WRIST", 1),
        routes={"R": straight_route("R", ("wash", 60, 60), ("assemble", usual, 20), ("cool", 60, 50))},
    )


def test_usual_minutes_too_long_and_least_enough_is_a_rush_with_its_savings() -> None:
    # Received 09:40; 60 + 90 + 60 make it ready 13:10, needed 12:30; by least minutes 11:50.
    conflict = only(planned(rush_day(90)))
    assert (conflict.kind, conflict.minutes) == (ConflictKind.RUSH, 40)
    assert [(one.step, one.minutes) for one in conflict.savings] == [("assemble", 70), ("cool", 10)]
    # Hurry must begin with the assembling at 10:40; cooling faster alone saves ten only.
    assert conflict.decide_by == at("10:40")


def test_savings_come_in_the_order_of_the_work_and_rushing_may_end_to_the_minute() -> None:
    """Received 09:40, washed 90 (at least 60), assembled 70 (at least 50) and cooled 60: 13:20, needed 12:30.

    All of the 50 minutes short must be saved, from the wash on: its last moment is 09:40, as assembling saves but 20.
    """
    route = straight_route("R", ("wash", 90, 60), ("assemble", 70, 50), ("cool", 60, 60))
    conflict = only(planned(wrist_day(cases=rush_day(90).cases, sets=copies("WRIST", 1), routes={"R": route})))
    assert (conflict.kind, conflict.minutes) == (ConflictKind.RUSH, 50)
    assert [(one.step, one.minutes) for one in conflict.savings] == [("wash", 30), ("assemble", 20)]
    assert conflict.decide_by == at("09:40")


def test_the_last_moment_for_a_rush_counts_when_it_makes_it_to_the_minute() -> None:
    """Received 09:40, 60 + 90 + 60: 13:10, needed 12:30. Assembling in 50 from 10:40 saves just the 40 it takes."""
    route = straight_route("R", ("wash", 60, 60), ("assemble", 90, 50), ("cool", 60, 60))
    conflict = only(planned(wrist_day(cases=rush_day(90).cases, sets=copies("WRIST", 1), routes={"R": route})))
    assert (conflict.kind, conflict.minutes, conflict.decide_by) == (ConflictKind.RUSH, 40, at("10:40"))


def test_a_set_on_the_shelf_in_the_other_building_has_nothing_to_save_in_the_department() -> None:
    """It stands ready at 05:00 in the east; the van of 90 minutes makes the case in the west at 06:50 late by 10."""
    site = wrist_day(
        cases=(case("1", "06:50", 60, "R3"),),
        sets=copies("WRIST", 1, place="S-01"),
        places={"S-01": Place(id="S-01", building="east")},
        rooms={"R3": Room(id="R3", building="west")},
        routes=rush_day(90).routes,
        transfers=(Transfer(from_building="east", to_building="west", minutes=90),),
    )
    conflict = only(planned(site))
    assert (conflict.kind, conflict.minutes, conflict.savings) == (ConflictKind.SHORT, 10, ())


@pytest.mark.parametrize(("next_start", "knock_on"), [("15:09", ("3",)), ("15:10", ())])
def test_a_late_case_reaches_the_next_in_its_room_only_through_the_turnover(
    next_start: str, knock_on: tuple[str, ...]
) -> None:
    """Case 2 is to end 14:00 and ends 14:40, as its set is 40 late; with 30 of turnover its room is ready 15:10."""
    site = rush_day(90)
    site = replace(site, cases=(*site.cases, case("3", next_start, 60)))
    plan = planned(site, wants("1", "WRIST"), wants("2", "WRIST"))
    conflict = only(plan)
    assert (conflict.kind, conflict.minutes, conflict.knock_on) == (ConflictKind.RUSH, 40, knock_on)


@pytest.mark.parametrize(("minutes", "knock_on"), [(780, ("3",)), (600, ())])
def test_a_late_case_that_lasts_past_midnight_reaches_the_next_in_its_room(
    minutes: int, knock_on: tuple[str, ...]
) -> None:
    """Case 2 starts 13:00, 40 late for its set, and ends 02:00 or 23:00; case 3 starts 02:30 in its room."""
    site = rush_day(90)
    first, second = site.cases
    night = replace(case("3", "02:30", 60, second.room), day=DAY + timedelta(days=1), start=at("02:30", 1))
    site = replace(site, cases=(first, replace(second, minutes=minutes), night))
    conflict = only(planned(site, wants("1", "WRIST"), wants("2", "WRIST")))
    assert (conflict.kind, conflict.minutes, conflict.knock_on) == (ConflictKind.RUSH, 40, knock_on)


def test_the_floor_is_reported_when_only_going_under_it_serves() -> None:
    site = wrist_day(
        cases=(case("1", "07:30", 60, "R3"), case("2", "08:00", 60, "R4")),
        trays={"WRIST": tray("WRIST", keep_ready=1)},
    )
    conflict = only(planned(site))
    assert (conflict.kind, conflict.waiter, conflict.minutes) == (ConflictKind.RESERVE, "2", 1)
    assert conflict.decide_by == at("07:30")  # when case 2 needs it
    # Both are out from 07:30; case 1 ends 08:30 and its set, received 08:40, is ready 11:50.
    assert conflict.proof is not None
    assert {one.set_id: (one.case, one.until) for one in conflict.proof.sets} == {
        "WRIST-01": ("1", at("11:50")),
        "WRIST-02": ("2", at("12:20")),
    }
    assert says_of_sets(conflict)["WRIST-01"].startswith("with case 1 until 08:30, ready again 11:50")
    assert "leaves none of Wrist ready until 11:50; 1 is to be kept ready" in says(conflict)
    assert not planned(wrist_day(cases=site.cases, sets=copies("WRIST", 3), trays=site.trays)).clusters


def test_two_sets_that_a_case_takes_from_the_reserve_are_two_matters_to_decide() -> None:
    """Left and right wrist of one case, each the last one that is to be kept ready; and one that stands in."""
    site = wrist_day(
        cases=(case("1", "07:30", 60), case("2", "07:30", 60, "R4", side=Side.LEFT)),
        trays={
            "WRIST": tray("WRIST", keep_ready=2, sided=True),
            "OLD": tray("OLD", stand_ins=(StandIn(tray="WRIST", preference=1),), sided=True),
        },
        sets={f"W-{side}": InstrumentSet(id=f"W-{side}", tray="WRIST", side=side) for side in ONE_SIDE},
    )
    left, right = (wants("1", "WRIST").needs[0], wants("1", "WRIST").needs[0])
    both = CaseNeeds(case="1", needs=(replace(left, side=Side.LEFT), replace(right, side=Side.RIGHT)))
    found = planned(site, both).conflicts
    assert {(one.copy, one.side) for one in found} == {(1, Side.LEFT), (2, Side.RIGHT)}
    assert len({conflict_key(one) for one in found}) == 2
    old = replace(wants("2", "OLD").needs[0], side=Side.LEFT)
    stood_in = only(planned(site, CaseNeeds(case="2", needs=(old,))))
    assert (stood_in.kind, stood_in.tray, stood_in.wanted) == (ConflictKind.RESERVE, "WRIST", ("OLD", 1))
    assert conflict_key(stood_in) == "reserve/WRIST for OLD/2"


def test_where_fewer_sets_exist_than_are_to_be_kept_ready_what_is_left_is_counted_from_the_sets() -> None:
    site = wrist_day(
        cases=(case("1", "07:30", 60),), trays={"WRIST": tray("WRIST", keep_ready=2)}, sets=copies("WRIST", 1)
    )
    conflict = only(planned(site))
    assert (conflict.kind, conflict.minutes) == (ConflictKind.RESERVE, 2)
    assert "leaves none of Wrist ready for as long as the schedule says; 2 are to be kept" in says(conflict)


def test_the_reserve_names_only_cases_whose_sets_are_out_then() -> None:
    # The set of case 1 is received 08:40 and ready 11:50, long before case 3 needs one at 15:30.
    cases = (case("1", "07:30", 60, "R3"), case("2", "15:00", 60, "R4"), case("3", "16:00", 60, "R3"))
    conflict = only(planned(wrist_day(cases=cases, trays={"WRIST": tray("WRIST", keep_ready=1)})))
    assert (conflict.kind, conflict.waiter, conflict.givers) == (ConflictKind.RESERVE, "3", ("2",))


def test_a_set_that_could_be_hurried_but_is_kept_for_another_case_is_proved_so() -> None:
    # Of case 1, received 09:40: ready 13:10 usually and 11:50 at least. Case 2 needs it 12:30; it is back at 17:40 and
    # 16:20, too late for case 3 at 14:30, which goes before it by its priority.
    cases = (case("1", "07:30", 120), case("2", "13:00", 60), case("3", "15:00", 60, priority=5))
    site = wrist_day(cases=cases, sets=copies("WRIST", 1), routes=rush_day(90).routes)
    plan = planned(site)
    conflict = next(one for one in plan.conflicts if one.kind is ConflictKind.SHORT)
    assert conflict.waiter == "2"
    assert says_of_sets(conflict)["WRIST-01"] == (
        "with case 1 until 09:30, ready again 13:10 at usual pace, 11:50 when hurried; but kept for case 3, which "
        "needs it by 14:30; would be back from case 2 only at 17:40 at usual pace, 16:20 when hurried"
    )


def test_the_soonest_set_is_said_to_be_kept_where_waiting_for_it_would_take_it_from_another_case() -> None:
    # Ready again 12:50; case 2, 30 minutes late, would have it until 14:00: too long for case 3 at 14:30, not at 18:00.
    for start, kept in (("15:00", True), ("18:30", False)):
        cases = (case("1", "07:30", 120), case("2", "12:50", 60, "R4"), case("3", start, 60, priority=5))
        conflict = only(planned(wrist_day(cases=cases, sets=copies("WRIST", 1))))
        assert (conflict.waiter, conflict.minutes) == ("2", 30)
        words = "It is kept for case 3, which needs it by 14:30 and could not have it back in time."
        assert (words in says(conflict)) == kept


def test_a_set_on_hold_that_comes_too_late_even_unopened_says_both() -> None:
    # Case 1 ends 10:00: put back 10:15, or ready 13:20; case 2 needs it at 10:10, on hold as well.
    site = wrist_day(cases=(case("1", "07:30", 150), case("2", "10:40", 60, "R4")), sets=copies("WRIST", 1))
    conflict = only(planned(site, wants("1", "WRIST", 0, 1), wants("2", "WRIST", 0, 1)))
    assert (conflict.kind, conflict.minutes) == (ConflictKind.SHORT, 190)
    assert "Case 1 has it on hold; if it stays unopened it is free 10:15, 5 min short." in says(conflict)
    assert says_of_sets(conflict)["WRIST-01"] == (
        "on hold in case 1 until 10:00, ready again 13:20 at usual pace, if it stays unopened 10:15"
    )


def test_a_late_case_names_who_loses_after_it() -> None:
    site = wrist_day(
        cases=(
            case("1", "07:30", 120, "R3"),
            case("2", "11:15", 60, "R3"),
            case("3", "12:30", 60, "R3"),
            case("4", "16:30", 60, "R4"),
        ),
        sets=copies("WRIST", 1),
    )
    plan = planned(site, wants("1", "WRIST"), wants("2", "WRIST"))
    assert only(plan).knock_on == ("3",)


@pytest.mark.parametrize("state", ["incomplete", "unknown"])
def test_a_set_that_is_not_fit_for_use_is_named_in_the_proof(state: str) -> None:
    broken = copies("WRIST", 1, state=state)
    conflict = only(planned(wrist_day(cases=(case("1", "07:30", 60),), sets=broken)))
    assert conflict.kind is ConflictKind.SHORT
    assert conflict.proof is not None
    assert conflict.proof.sets[0].until is None
    assert state in says(conflict)


def test_a_set_whose_record_ends_before_the_case_is_none_that_stands_ready() -> None:
    # Recorded until 05:30, and its 190 minutes make it ready at 08:10: at 07:00 case 1 takes the only one that is.
    pair = copies("WRIST", 2)
    pair["WRIST-02"] = replace(pair["WRIST-02"], recorded_until=at("05:30"))
    keeps = {"WRIST": tray("WRIST", keep_ready=1)}
    conflict = only(planned(wrist_day(cases=(case("1", "07:30", 60),), trays=keeps, sets=pair), remedies=True))
    assert conflict.kind is ConflictKind.RESERVE
    assert "leaves none of Wrist ready until 08:10; 1 is to be kept ready" in says(conflict)
    assert (
        proof_opening(conflict, SiteClock("UTC"))
        == "At 07:00 no other set of Wrist is ready; 1 set is to be kept ready."
    )
    assert says_of_sets(conflict)["WRIST-02"] == (
        "on the shelf, its record ends Thu 26 Nov 05:30, before the case, ready 08:10 at usual pace"
    )
    gap = next(one for one in conflict.remedies if one.edits[0].kind is RemedyKind.ACCEPT)
    assert "from 07:00 until 08:10 no set of Wrist is ready for an emergency; 1 should be kept" in gap.text


def test_a_set_of_the_right_side_that_is_of_another_size_is_said_to_be_of_that_size() -> None:
    one = replace(copies("WRIST", 1)["WRIST-01"], side=Side.LEFT, size="adult")
    site = wrist_day(cases=(case("1", "07:30", 60),), trays={"WRIST": tray("WRIST", sided=True)}, sets={one.id: one})
    need = replace(wants("1", "WRIST").needs[0], side=Side.LEFT, size="child")
    conflict = only(planned(site, CaseNeeds(case="1", needs=(need,))))
    assert says_of_sets(conflict) == {"WRIST-01": "adult, does not fit"}
