"""One act has one latest minute, on whichever paper of the sample hospital's day it stands."""

from __future__ import annotations

from functools import cache

from picklist.documents.views.department_sheet import department_sheet
from picklist.documents.views.lookup import Lookup, look_up
from picklist.documents.views.pick_list import PickListView, pick_list
from picklist.documents.views.reuse_blocks import ReuseBlock
from picklist.documents.views.stamp import printing_of
from picklist.documents.views.tray_rows import Strip
from picklist.documents.views.words import day_of_week
from picklist.model.uses import Reuse
from tests.board.days import sample_day

Acts = dict[str, str]


@cache
def found() -> Lookup:
    return look_up(sample_day())


@cache
def lists() -> dict[str, PickListView]:
    plan = sample_day()
    return {cart.case.number: pick_list(found(), cart, printing_of(plan)) for cart in plan.carts}


def strip_of(case: str, set_id: str, word: str) -> Strip | None:
    """What the list of a case says of one of its sets; None when the case has no list on this day."""
    if case not in lists():
        return None
    (row,) = [row for row in lists()[case].trays if row.set_id == set_id]
    (strip,) = [one for one in row.strips if one.word == word]
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
        own = "" if day == day_of_week(found().day) else day
        acts |= one_by_one(((step.act, f"{own} {step.latest}".strip()),))
    return acts


def of_the_stations(set_id: str, source: str, target: str) -> Acts:
    acts: Acts = {}
    for group in department_sheet(found()).stations:
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
    blocks = {(block.set_id, block.target[:6]): block for block in department_sheet(found()).reuses}
    reuses = reuses_into_the_day()
    assert len(reuses) > 12
    given = 0
    for reuse in reuses:
        comes = strip_of(reuse.waiter, reuse.set_id, "COMES") if is_served(reuse) else None
        block = blocks[reuse.set_id, reuse.waiter]
        acts = of_the_block(block)
        assert len(acts) == len(reuse.deadlines)
        source = block.source if reuse.giver else ""
        assert of_the_stations(reuse.set_id, source, block.target) == acts
        if comes:
            assert one_by_one(comes.times) == acts
        gives = strip_of(reuse.giver, reuse.set_id, "GIVE BACK") if reuse.giver else None
        if gives:
            given += 1
            for act, time in gives.times:
                assert acts[act] == time, (reuse.set_id, act)
    assert given > 4


def is_served(reuse: Reuse) -> bool:
    return any(row.set_id == reuse.set_id for row in lists()[reuse.waiter].trays)


def test_that_what_is_given_back_for_a_later_day_has_the_same_minute_on_both_papers() -> None:
    rows = [row for group in department_sheet(found()).later for row in group.rows]
    assert len(rows) > 40
    for row in rows:
        giver = row.source.removeprefix("from ").partition(" ")[0]
        strip = strip_of(giver, row.set_id, "GIVE BACK")
        assert strip is not None
        act, time = strip.times[0]
        assert (act, time.split(" ")[-1]) == (row.first_act, row.first_by)
        assert strip.text.startswith(f"for {row.target.partition(' in ')[0]} in ")
