"""One act has one latest minute, on whichever paper of the sample hospital's day it stands."""

from __future__ import annotations

from functools import cache

from picklist.documents.views.department_sheet import DepartmentView
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.pick_list import PickListView
from picklist.documents.views.reuse_blocks import ReuseBlock
from picklist.documents.views.stamp import printing_of
from picklist.documents.views.tray_rows import Strip
from picklist.documents.views.worklist import LoadRow, WorklistView
from picklist.model.uses import Reuse
from picklist.wording import NONE, short_day
from tests.board.days import sample_day

Acts = dict[str, str]
Minute = tuple[str, str]  # the day and the wall time


@cache
def found() -> Lookup:
    return Lookup(sample_day())


@cache
def lists() -> dict[str, PickListView]:
    plan = sample_day()
    return {cart.case.number: PickListView(found(), cart, printing_of(plan)) for cart in plan.carts}


def strip_of(case: str, set_id: str, word: str) -> Strip | None:
    """What the list of a case says of one of its sets by its times; None when the case has no list on this day."""
    if case not in lists():
        return None
    (row,) = [row for row in lists()[case].trays if row.set_id == set_id]
    (strip,) = [one for one in row.strips if one.word == word and one.times]
    return strip


def one_by_one(times: tuple[tuple[str, str], ...]) -> Acts:
    """``(("start wash, here", "10:15"),)`` as one time for each act."""
    return {act: time for acts, time in times for act in acts.split(", ")}


def of_the_block(block: ReuseBlock) -> Acts:
    """The acts of the department's sheet with the day before each time that is not the sheet's own."""
    acts: Acts = {}
    day = ""
    for step in block.steps:
        day = step.day or day
        own = "" if day == short_day(found().day) else day
        acts |= one_by_one(((step.act, f"{own} {step.latest}".strip()),))
    return acts


def of_the_stations(set_id: str, source: str, target: str) -> Acts:
    acts: Acts = {}
    for group in DepartmentView(found()).stations:
        _, _, day = group.title.partition(", Wed")
        for row in group.rows:
            if (row.set_id, row.source, row.target) == (set_id, source, target):
                acts |= one_by_one(((row.act, (f"Wed{day} " if day else "") + row.latest),))
    return acts


def reuses_into_the_day() -> list[Reuse]:
    plan = sample_day()
    numbers = {cart.case.number for cart in plan.carts}
    return [one for one in plan.reuses if one.waiter in numbers]


def test_that_the_department_the_waiting_and_the_giving_case_say_the_same_minutes() -> None:
    blocks = {(block.set_id, block.target[:6]): block for block in DepartmentView(found()).reuses}
    reuses = reuses_into_the_day()
    assert len(reuses) > 12
    given = 0
    for reuse in reuses:
        comes = strip_of(reuse.waiter, reuse.set_id, "COMING") if is_served(reuse) else None
        block = blocks[reuse.set_id, reuse.waiter]
        acts = of_the_block(block)
        assert len(acts) == len(reuse.deadlines)
        source = block.source if reuse.giver else ""
        assert of_the_stations(reuse.set_id, source, block.target) == acts
        if comes:
            assert one_by_one(comes.times) == acts
        gives = strip_of(reuse.giver, reuse.set_id, "NEEDED NEXT") if reuse.giver else None
        if gives:
            given += 1
            for act, time in gives.times:
                assert acts[act] == time, (reuse.set_id, act)
    assert given > 4


def is_served(reuse: Reuse) -> bool:
    return any(row.set_id == reuse.set_id for row in lists()[reuse.waiter].trays)


def test_that_what_is_given_back_for_a_later_day_has_the_same_minute_on_both_papers() -> None:
    rows = [row for group in DepartmentView(found()).later for row in group.rows]
    assert len(rows) > 40
    for row in rows:
        giver = row.source.removeprefix("from ").partition(" ")[0]
        strip = strip_of(giver, row.set_id, "NEEDED NEXT")
        assert strip is not None
        act, time = strip.times[0]
        assert (act, time.split(" ")[-1]) == (row.first_act, row.first_by)
        assert strip.text.startswith(f"by {row.target.partition(' in ')[0]} in ")


def loads_of(set_id: str) -> dict[Minute, tuple[str, LoadRow]]:
    """The loads that a set goes into on the worklist, by day and start, each with its station."""
    return {
        (group.title, row.begins): (station, row)
        for station, groups in WorklistView(found()).stations
        for group in groups
        for row in group.rows
        if set_id in row.sets
    }


def test_that_a_load_must_start_when_the_department_sheet_says_so_of_its_most_pressing_set() -> None:
    run = sample_day().department
    assert run is not None
    compared = 0
    for reuse in reuses_into_the_day():
        (way,) = [one for one in run.runs if (one.set_id, one.for_case) == (reuse.set_id, reuse.waiter)]
        loads = loads_of(reuse.set_id)
        for act, station, at in [(one.act, one.station, one.latest) for one in reuse.deadlines]:
            begun = [step for step in way.steps if step.load and f"start {step.step}" == act]
            for step in begun:
                begins = (short_day(found().clock.day(step.begins)), found().clock.hhmm(step.begins))
                where, row = loads[begins]
                assert where == station
                alone = len(row.sets) == 1
                own = (row.latest.day, row.latest.time)
                day = short_day(found().clock.day(at))
                said = ("" if day == begins[0] else day, found().clock.hhmm(at))
                assert own == said if alone else row.latest.time != NONE, (reuse.set_id, act)
                compared += alone
    assert compared > 20


def test_that_a_load_that_runs_at_printing_is_not_to_be_started() -> None:
    plan = sample_day()
    assert plan.department is not None
    running = {one.id for one in plan.department.loads if one.begins < plan.now < one.ends}
    assert running
    groups = [group for _, groups in WorklistView(found()).stations for group in groups]
    apart = [row for group in groups if group.runs for row in group.rows]
    assert len(apart) == len(running)
    assert {group.title for group in groups if group.runs} == {"Running when printed"}
