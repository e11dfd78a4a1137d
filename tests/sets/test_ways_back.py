"""A set used in another building goes home before its route begins; each place that says when it is ready counts it.

Our own days: 190 minutes from receipt to shelf, 10 to the dock or to decontamination, 20 from the east to the west and
25 back. Sets belong to the east; rooms R3 and R5 are in the west, R4 in the east, R6 in the north.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import time

import pytest

from picklist.department import draw_chances, run_department
from picklist.model.catalogue import Place
from picklist.model.conflicts import ConflictKind
from picklist.model.routes import Departure, Transfer
from picklist.model.schedule import Case, CaseStatus, Room
from picklist.model.sets import SetState
from picklist.model.site import Site
from picklist.model.uses import Reuse
from picklist.sets.case_uses import make_uses
from picklist.sets.plan_sets import SetsPlan
from picklist.sets.turnaround import Turnaround
from tests.builders import at, case, copies, says, says_of_sets
from tests.sets.test_conflicts import only, planned, wants, wrist_day

THERE = Transfer(from_building="east", to_building="west", minutes=20)
BACK = Transfer(from_building="west", to_building="east", minutes=25)
BUILDINGS = {"R3": "west", "R5": "west", "R4": "east", "R6": "north"}


def house(*cases: Case, ways: tuple[Transfer, ...] = (THERE, BACK), sets: int = 1, **state: object) -> Site:
    """Sets of the east, and cases in any building; a van leaves at 09:00 and 11:00."""
    return wrist_day(
        cases=cases,
        sets=copies("WRIST", sets, place="shelf", **state),
        places={"shelf": Place(id="shelf", building="east")},
        rooms={name: Room(id=name, building=building) for name, building in BUILDINGS.items()},
        transfers=ways,
        departures=tuple(Departure(run="van", weekday=day, leaves=time(hour)) for day in range(7) for hour in (9, 11)),
    )


def reuse_for(plan: SetsPlan, number: str) -> Reuse:
    (found,) = (one for one in plan.reuses if one.waiter == number)
    return found


def deadlines(reuse: Reuse) -> dict[str, tuple[int, int]]:
    return {one.act: (one.latest.hour, one.latest.minute) for one in reuse.deadlines}


def test_a_set_used_in_the_west_is_ready_in_the_east_only_after_its_way_back() -> None:
    # Out 08:30, at the dock 08:40, in decontamination 09:05, ready 12:15 where 12:30 is the need.
    plan = planned(house(case("1", "07:30", 60, "R3"), case("2", "13:00", 60, "R4")))
    reuse = reuse_for(plan, "2")
    assert (reuse.released, reuse.received) == (at("08:40"), at("09:05"))
    assert (reuse.ready, reuse.slack, reuse.break_even) == (at("12:15"), 15, 15)
    assert deadlines(reuse) == {
        "out of the room": (8, 45),
        "start transfer back to east": (8, 55),
        "into decontamination": (9, 20),
        "start wash": (9, 20),
        "start assemble": (10, 20),
        "start steam": (10, 50),
        "steam done": (12, 30),
        "on the cart": (12, 30),
    }


@pytest.mark.parametrize(("ways", "received"), [((THERE, BACK), "09:05"), ((THERE,), "08:40")])
def test_a_set_used_in_the_west_is_received_in_the_east_after_its_way_back(
    ways: tuple[Transfer, ...], received: str
) -> None:
    """At the dock 08:40, 25 minutes back; where no way back is listed it counts as received where it was used."""
    site = house(case("1", "07:30", 60, "R3"), ways=ways)
    (use,) = make_uses(site, [wants("1", "WRIST")], site.cases)
    assert Turnaround(site).received(use, "WRIST", "east") == at(received)


def test_the_next_case_in_the_west_waits_for_both_ways() -> None:
    reuse = reuse_for(planned(house(case("1", "07:30", 60, "R3"), case("2", "14:00", 60, "R5"))), "2")
    assert reuse.ready == at("12:35")
    assert [step.step for step in reuse.walk.steps][:1] == ["transfer back to east"]
    assert [step.step for step in reuse.walk.steps][-1:] == ["transfer to west"]


def test_a_way_back_by_van_waits_for_the_van() -> None:
    """At the dock 08:40 it takes the 09:00 van; five minutes of overrun more than 20 and it is the 11:00 one."""
    van = (THERE, replace(BACK, run="van"))
    for minutes, received, ready in ((80, "09:25", "12:35"), (81, "11:25", "14:35")):
        first = case("1", "07:30", minutes, "R3")
        reuse = reuse_for(planned(house(first, case("2", "15:30", 60, "R4"), ways=van)), "2")
        assert (reuse.received, reuse.ready) == (at(received), at(ready))
    assert deadlines(reuse)["transfer back to east leaves on van"] == (11, 0)
    assert deadlines(reuse)["out of the room"] == (10, 50)


def test_a_set_that_a_running_case_has_in_the_west_goes_home_first() -> None:
    running = case("1", "07:30", 60, "R3", status=CaseStatus.RUNNING)
    site = house(running, case("2", "13:00", 60, "R4"), state=SetState.IN_USE, in_case="1")
    plan = planned(site, wants("2", "WRIST"), now="08:00")
    assert reuse_for(plan, "2").ready == at("12:15")
    unlisted = only(planned(replace(site, transfers=(THERE,)), wants("2", "WRIST"), now="08:00"))
    assert "until about Thu 26 Nov 08:30; no transfer back from west to east is listed" in says(unlisted)


def test_a_set_from_which_no_way_leads_home_serves_nobody_else_and_the_sheet_says_so() -> None:
    plan = planned(house(case("1", "07:30", 60, "R3"), case("2", "13:00", 60, "R4"), ways=(THERE,)))
    conflict = only(plan)
    assert (conflict.kind, conflict.waiter, conflict.minutes) == (ConflictKind.SHORT, "2", 0)
    said = says_of_sets(conflict)["WRIST-01"]
    assert said == "with case 1 until 08:30, and no transfer back from west to east is listed"


@pytest.mark.parametrize(
    ("extra", "ready"),
    [
        # Home by 25, then 30 to the north, after 15 minutes of put-back from 08:30.
        ((Transfer(from_building="east", to_building="north", minutes=30),), "09:40"),
        # A way straight there goes before.
        (
            (
                Transfer(from_building="east", to_building="north", minutes=30),
                Transfer(from_building="west", to_building="north", minutes=12),
            ),
            "08:57",
        ),
    ],
)
def test_an_unopened_tray_goes_straight_to_the_next_building_or_by_its_home(
    extra: tuple[Transfer, ...], ready: str
) -> None:
    site = house(case("1", "07:30", 60, "R3"), case("2", "10:30", 60, "R6"), ways=(THERE, BACK, *extra))
    reuse = reuse_for(planned(site, wants("1", "WRIST", 0, 1), wants("2", "WRIST")), "2")
    assert reuse.if_unopened_ready == at(ready)


def test_an_unopened_tray_goes_home_for_a_case_there_and_stays_next_door() -> None:
    for room, ready in (("R4", "09:10"), ("R5", "08:45")):
        site = house(case("1", "07:30", 60, "R3"), case("2", "10:30", 60, room))
        reuse = reuse_for(planned(site, wants("1", "WRIST", 0, 1), wants("2", "WRIST")), "2")
        assert reuse.if_unopened_ready == at(ready)
        assert reuse.if_unopened_by is not None
        assert at("10:00") - reuse.if_unopened_by == at(ready) - at("08:30")


def test_a_loan_must_be_home_by_the_time_at_which_it_goes_back() -> None:
    for goes_back, served in (("09:05", True), ("09:04", False)):
        plan = planned(house(case("1", "07:30", 60, "R3"), return_by=at(goes_back)))
        assert bool(plan.assignments[0].set_id) is served


def test_a_number_kept_ready_counts_a_set_only_when_it_is_home() -> None:
    # Home and ready at 12:15, not at 11:50: at 12:00 only one of two stands ready.
    site = house(case("1", "07:30", 60, "R3"), case("2", "12:30", 60, "R4"), sets=2)
    keeps = replace(site, trays={"WRIST": replace(site.trays["WRIST"], keep_ready=1)})
    reserve = planned(keeps).conflicts
    assert [(one.kind, one.waiter) for one in reserve] == [(ConflictKind.RESERVE, "2")]
    assert reserve[0].facts is not None
    assert reserve[0].facts.reserve is not None
    assert reserve[0].facts.reserve.until == at("12:15")


def test_the_department_and_the_chance_count_the_way_back_as_well() -> None:
    # To spare 15 with the way back, 40 without: only an overrun of more than 15 minutes makes it late.
    site = house(case("1", "07:30", 60, "R3"), case("2", "13:00", 60, "R4"))
    plan = planned(site)
    run = run_department(site, plan.assignments, at("05:00"))
    (way,) = (one for one in run.runs if one.for_case == "2")
    assert (way.released, way.received, way.ready) == (at("08:40"), at("09:05"), at("12:15"))
    near = replace(site, transfers=(THERE, replace(BACK, minutes=1)))
    far, close = (
        draw_chances(one, one.cases, plan.assignments, planned(one).reuses, at("05:00"), draws=2000, seed=1).reuses[0]
        for one in (site, near)
    )
    assert far.fails > close.fails + 0.1


def test_a_case_moved_to_the_west_gives_its_set_back_later() -> None:
    """Case 1 in the east gives its set in time for 12:10; in the west it would be 5 minutes late."""
    site = house(case("1", "07:30", 60, "R4"), case("2", "12:40", 60, "R4"))
    assert reuse_for(planned(site), "2").slack == 20
    moved = replace(site, cases=(replace(site.cases[0], room="R3"), site.cases[1]))
    assert only(planned(moved)).minutes == 5
