"""A number kept ready counts the sets in all buildings, and never keeps a case from its own building's set."""

from __future__ import annotations

from dataclasses import replace

import pytest

from picklist.model.catalogue import Place
from picklist.model.conflicts import ConflictKind
from picklist.model.routes import Transfer
from picklist.model.schedule import Room
from picklist.model.site import Site
from tests.builders import at, case, copies, tray
from tests.sets.test_conflicts import only, planned, wants, wrist_day

ONE_WAY = (Transfer(from_building="east", to_building="west", minutes=20),)
BOTH_WAYS = (*ONE_WAY, Transfer(from_building="west", to_building="east", minutes=20))


def two_buildings(ways: tuple[Transfer, ...], keep: int, sets: tuple[str, ...] = ("west", "east")) -> Site:
    """Sets of one tray in the buildings named; case 1 in the west from 07:30, case 2 in the east from 08:00."""
    made = copies("WRIST", len(sets)).values()
    return wrist_day(
        cases=(case("1", "07:30", 60, "R3", priority=2), case("2", "08:00", 60, "R4")),
        trays={"WRIST": tray("WRIST", keep_ready=keep)},
        sets={one.id: replace(one, place=home) for one, home in zip(made, sets, strict=True)},
        places={home: Place(id=home, building=home) for home in ("west", "east")},
        rooms={"R3": Room(id="R3", building="west"), "R4": Room(id="R4", building="east")},
        transfers=ways,
    )


@pytest.mark.parametrize("ways", [(), ONE_WAY, BOTH_WAYS])
def test_each_case_gets_the_set_of_its_building_and_the_reserve_is_told(ways: tuple[Transfer, ...]) -> None:
    plan = planned(two_buildings(ways, keep=1))
    assert all(one.set_id for one in plan.assignments)
    conflict = only(plan)
    assert (conflict.kind, conflict.waiter, conflict.minutes) == (ConflictKind.RESERVE, "2", 1)


@pytest.mark.parametrize("ways", [(), ONE_WAY, BOTH_WAYS])
def test_a_set_in_the_other_building_is_kept_ready_for_both(ways: tuple[Transfer, ...]) -> None:
    assert not planned(two_buildings(ways, keep=1, sets=("west", "east", "east"))).clusters


def test_a_held_tray_that_stays_unopened_goes_to_the_next_case_next_door_without_going_home() -> None:
    """The set of the west is on hold in the east until 09:00; 15 minutes put it back, 20 each way home and back."""
    site = two_buildings(BOTH_WAYS, keep=0, sets=("west",))
    cases = (case("1", "08:00", 60, "R4"), case("2", "09:50", 60, "R4"))
    plan = planned(replace(site, cases=cases), wants("1", "WRIST", 0, 1), wants("2", "WRIST"))
    (reuse,) = (one for one in plan.reuses if one.waiter == "2")
    assert (reuse.if_unopened_ready, reuse.if_unopened_slack) == (at("09:15"), 5)
    assert reuse.if_unopened_by == at("09:05")
    assert only(plan).kind is ConflictKind.CONDITIONAL
