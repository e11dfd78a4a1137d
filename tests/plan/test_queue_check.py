"""Each move that is proposed, written into the schedule file and planned anew from the files. Our own days.

On seeded days all trays share one washer and one sterilizer. What a remedy promises must hold of the plan that the
program makes of the changed files: its conflict is gone, and none is new, in the department's queue neither.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import time
from functools import cache
from pathlib import Path

import pytest

from picklist.department import run_department
from picklist.model.catalogue import Place
from picklist.model.conflicts import Conflict, ConflictKind, Remedy, RemedyKind, conflicts_in
from picklist.model.plan import Plan
from picklist.model.routes import Station, Transfer, WorkPeriod
from picklist.model.schedule import Room
from picklist.model.sets import SetState
from picklist.plan import PlanRequest, make_plan
from picklist.plan.make import add_queue
from picklist.plan.queue_check import QueueCheck
from picklist.plan.queue_remedies import add_queue_remedies
from picklist.sets.plan_sets import add_remedies, compose, make_planned_day
from picklist.sets.remedies.trial import Trials
from picklist.tables.write import write_tables
from picklist.tasks.read_folder import load_site
from tests.builders import DAY, at, case
from tests.department.ward import station, use, ward
from tests.inputs.folders import Rows
from tests.patience import tries
from tests.sets.days import random_day
from tests.sets.random_sites import Evening
from tests.sets.remedies_apart import moves_of, with_moves

NOW = at("05:00")
SEEDS = (2, 6, 15, 4, 9, 13)[: tries(6, 1)]  # the first three have conflicts of the queue
MOVED = (RemedyKind.SHIFT, RemedyKind.ROOM, RemedyKind.SWAP)
GRAVER = (ConflictKind.TIGHT, ConflictKind.CONDITIONAL, ConflictKind.QUEUE, ConflictKind.RUSH, ConflictKind.SHORT)


def scarce(seed: int) -> Evening:
    """A day on which all trays share one washer and one sterilizer, for two sets at a time."""
    site, uses = random_day(seed, cases=9, rooms=4, trays=4, spare=1.1)
    names = ("wash", "steam")
    route = site.routes["R"]
    steps = tuple(replace(step, station=step.name if step.name in names else "") for step in route.steps)
    hours = tuple(
        WorkPeriod(station=name, weekday=day, opens=time(0), closes=time(0)) for name in names for day in range(7)
    )
    stations = {name: Station(id=name, machines=1, per_load=2) for name in names}
    site = replace(site, routes={"R": replace(route, steps=steps)}, stations=stations, hours=hours)
    return Evening(site=site, uses=uses, now=NOW)


def rows_of(evening: Evening) -> Rows:
    """The sheets that say what a made-up day is; each case has a procedure of its own with its trays on the card."""
    site = evening.site
    return {
        "Settings": [
            {"setting": "site", "value": site.settings.site},
            {"setting": "time zone", "value": site.settings.time_zone},
        ],
        "Schedule": schedule_of(evening),
        "Procedures": [{"procedure": f"P {one.number}", "name": f"Procedure {one.number}"} for one in site.cases],
        "Cards": [
            {"procedure": f"P {use.case}", "kind": "tray", "thing": use.tray, "hold" if use.on_hold else "open": 1}
            for use in evening.uses
        ],
        "Staff": [{"person": person} for person in sorted({one.surgeon for one in site.cases})],
        "Items": [],
        "Lots": [],
        "Rooms": [{"room": room} for room in site.rooms],
        "Trays": [
            {
                "tray": one.id,
                "name": one.name,
                "route": one.route,
                "stand-ins": tuple(other.tray for other in one.stand_ins),
                "sided": False,
                "implants": False,
                "latex": False,
            }
            for one in site.trays.values()
        ],
        "Sets": [{"set": one.id, "tray": one.tray, "state": "on shelf"} for one in site.sets.values()],
        "Routes": [
            {
                "route": route.id,
                "step": step.name,
                "after": step.after or ("start",),
                "usual minutes": step.usual_minutes,
                "least minutes": step.least_minutes,
                "station": step.station,
            }
            for route in site.routes.values()
            for step in route.steps
        ],
        "Stations": [
            {"station": one.id, "machines": one.machines, "trays per load": one.per_load}
            for one in site.stations.values()
        ],
    }


def schedule_of(evening: Evening) -> list[dict[str, object]]:
    return [
        {
            "case": one.number,
            "day": DAY,
            "room": one.room,
            "start": one.start.time(),
            "minutes": one.minutes,
            "surgeon": one.surgeon,
            "procedures": (f"P {one.number}",),
            "side": "none",
            "may move": one.may_move,
        }
        for one in evening.site.cases
    ]


@pytest.fixture(scope="session")
def folders(tmp_path_factory: pytest.TempPathFactory) -> dict[int, Path]:
    """The days as folders, by seed."""
    made = {seed: tmp_path_factory.mktemp(f"day {seed}") for seed in SEEDS}
    for seed, folder in made.items():
        rows = rows_of(scarce(seed))
        write_tables(folder, rows, as_csv=frozenset(rows))
    return made


@cache
def shown(folder: Path) -> tuple[Conflict, ...]:
    """All conflicts of a day with their remedies, those of the queue among them."""
    return planned(folder, remedies=True).conflicts


def planned(folder: Path, *, remedies: bool = False) -> Plan:
    """The plan that the program makes of a folder."""
    loaded, site = load_site(folder, NOW)
    order = PlanRequest(day=DAY, now=loaded.now, with_chance=False, with_remedies=remedies)
    return make_plan(site, loaded.problems, order)


def moves_in(conflicts: tuple[Conflict, ...]) -> Iterator[tuple[Conflict, Remedy]]:
    for conflict in conflicts:
        for remedy in conflict.remedies:
            if all(edit.kind in MOVED for edit in remedy.edits):
                yield conflict, remedy


@pytest.mark.parametrize("seed", SEEDS)
def test_every_move_keeps_its_promise_once_the_schedule_says_it(seed: int, folders: dict[int, Path]) -> None:
    folder, evening = folders[seed], scarce(seed)
    found = shown(folder)
    before = {one.id: one for one in found}
    for conflict, remedy in moves_in(found):
        after = evening
        for edit in remedy.edits:
            after = with_moves(after, moves_of(after, edit))
        again = {one.id: one for one in carried_out(folder, after)}
        assert again.keys() <= before.keys(), (conflict.id, remedy.text)
        for key, one in again.items():
            assert is_no_graver(one, before[key]), (key, remedy.text)
        for key in remedy.removes:
            assert key not in again or again[key].kind is ConflictKind.TIGHT, (key, remedy.text)
        gone = {one.id for one in found if one.kind is ConflictKind.QUEUE and one.id not in again}
        assert {conflict.id, *gone} <= set(remedy.removes), remedy.text


def carried_out(folder: Path, after: Evening) -> tuple[Conflict, ...]:
    """The conflicts of a folder whose schedule file says other starts and rooms, which are then as they were."""
    file = folder / "Schedule.csv"
    was = file.read_bytes()
    write_tables(folder, {"Schedule": schedule_of(after)}, as_csv=frozenset({"Schedule"}))
    assert file.read_bytes() != was
    try:
        return planned(folder).conflicts
    finally:
        file.write_bytes(was)


def is_no_graver(now: Conflict, was: Conflict) -> bool:
    """A conflict is of no graver kind and, where it is late, no later than before."""
    if now.kind is not was.kind:
        return GRAVER.index(now.kind) < GRAVER.index(was.kind)
    return now.kind is ConflictKind.TIGHT or now.minutes <= was.minutes


def test_conflicts_of_the_queue_have_remedies_like_all_others(folders: dict[int, Path]) -> None:
    queued = [one for folder in folders.values() for one in shown(folder) if one.kind is ConflictKind.QUEUE]
    moved = [one for one in queued if any(remedy.edits[0].kind in MOVED for remedy in one.remedies)]
    assert moved
    assert 2 * len(moved) >= len(queued)
    assert all(remedy.removes[0] == one.id for one in queued for remedy in one.remedies)


def test_some_remedies_are_refused_for_the_queue_alone(folders: dict[int, Path]) -> None:
    refused = 0
    for seed, folder in folders.items():
        evening = scarce(seed)
        day = make_planned_day(evening.site, evening.uses, NOW)
        kept = {one.text for c in shown(folder) for one in c.remedies}
        free = conflicts_in(add_remedies(day, compose(day).clusters))
        refused += sum(one.text not in kept for c in free for one in c.remedies)
    assert refused


def test_a_case_may_go_to_another_building_at_its_own_start_for_a_set_that_the_queue_makes_late() -> None:
    """Three dirty sets, one washer: the wrist set, washed last, is ready 09:20 in the west and 10:20 in the east.

    Case 3 in the east needs it at 10:00. In a room of the west it has it, at the same start.
    """
    cases = [case("1", "09:15", 60, "OR 1"), case("2", "09:15", 60, "OR 2"), case("3", "10:30", 60, "OR 3")]
    site = station(ward({"HIP": 1, "KNEE": 1, "WRIST": 1}, cases=cases, margin=0), "washers", machines=1, per_load=1)
    site = replace(
        site,
        sets={one.id: replace(one, state=SetState.DIRTY, place="west") for one in site.sets.values()},
        places={"west": Place(id="west", building="west")},
        rooms={f"OR {n}": Room(id=f"OR {n}", building="east" if n == 3 else "west") for n in (1, 2, 3, 7)},
        transfers=tuple(
            Transfer(from_building=a, to_building=b, minutes=60) for a, b in (("west", "east"), ("east", "west"))
        ),
    )
    wanted = zip(cases, ("HIP", "KNEE", "WRIST"), strict=True)
    uses = [replace(use(site, one, tray), building=site.rooms[one.room].building) for one, tray in wanted]
    planned = make_planned_day(site, uses, NOW)
    sets = compose(planned)
    run = run_department(site, sets.assignments, NOW)
    check = QueueCheck(site, planned, run, NOW)
    clusters = add_queue_remedies(Trials(planned, check), check, add_queue(site, sets, NOW, run))
    (conflict,) = conflicts_in(clusters)
    assert (conflict.kind, conflict.minutes) == (ConflictKind.QUEUE, 20)
    texts = [one.text for one in conflict.remedies]
    assert "Move case 3 from OR 3 to OR 7, at 10:30 as planned" in texts
