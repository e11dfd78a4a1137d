"""The page for the morning: a line for each open thing, on one sheet, and nothing when nothing is open."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pypdfium2
import pytest

from picklist.documents.missing_characters import CharacterCheck
from picklist.documents.templates import fonts_of_sheets
from picklist.documents.views.finished_words import as_data
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.morning_page import MorningView, since_rows
from picklist.documents.views.open_list import open_list
from picklist.evening.open_points import open_points
from picklist.evening.since_built import SinceBuilt
from picklist.model.built import BuiltCart
from picklist.model.known import Decision, Known, Move, Seen, conflict_key, short_items
from picklist.model.plan import Plan
from picklist.tasks.errors import WrongUse
from picklist.tasks.targets import PrintedPage, print_page
from tests.cli.run import NOW, WRONG_USE, run
from tests.documents.carts import DAY, local
from tests.documents.findings import rich_plan
from tests.documents.sheets import otherwise
from tests.documents.the_morning import the_points


def the_view() -> MorningView:
    plan = rich_plan()
    return MorningView(Lookup(plan), the_points(plan))


def test_that_every_conflict_waits_for_a_decision_with_the_hour_until_which_it_helps() -> None:
    plan = rich_plan()
    conflicts = {conflict_key(c) for c in plan.conflicts}
    rows = the_view().decisions
    assert len(rows) == len(conflicts) >= 4
    assert {row.kind for row in rows} >= {"SHORT", "RUSH"}
    assert all(row.case and row.what for row in rows)
    assert [row.by for row in rows if row.by] == sorted(row.by for row in rows if row.by)


def test_that_a_page_of_the_early_morning_says_of_which_hour_its_times_are() -> None:
    """A plan of the evening printed ten hours later: its minutes to spare are of then, and what is over is marked."""
    plan = rich_plan()
    late = MorningView(Lookup(plan), the_points(plan, plan.now + timedelta(hours=12)))
    assert the_view().of_plan == ""
    assert "from the plan of Wed 25 Nov 20:15" in late.of_plan
    assert "12 h 00 min before this page" in late.of_plan
    assert not any(row.past for row in the_view().missing)
    assert all(row.past for row in late.missing if row.by == "07:00")
    assert any("(PAST)" in case for row in late.carts for case in row.carts)


def test_that_a_decision_whose_hour_is_over_says_so() -> None:
    plan = rich_plan()
    late = MorningView(Lookup(plan), the_points(plan, local("23:00")))
    assert any(row.past for row in late.decisions)


def test_that_what_is_decided_and_not_in_the_schedule_stands_in_its_place_of_time_as_on_the_open_list() -> None:
    plan = rich_plan()
    found, first = Lookup(plan), min((c for c in plan.conflicts if c.decide_by), key=lambda c: str(c.decide_by))
    moved = Move(case=first.waiter, room="OR 9", start=local("15:00"))
    said = Decision(
        about=conflict_key(first), decided="start it at 15:00", told="Dr. Quill", by="mk", at=plan.now, moves=(moved,)
    )
    points = open_points(plan, Known(built={}, revisions={}, decided={said.about: said}), plan.now)
    view = MorningView(found, points)
    assert [row.kind for row in view.decisions].index("TO SCHEDULE") == 0
    assert view.decisions[0].note.startswith("decided: start it at 15:00; not in the schedule yet; informed: Dr. Quill")
    assert "1 decision to put into the schedule" in view.counts
    about = {row.about for row in view.decisions}
    assert view.decisions == tuple(row for row in open_list(found, points) if row.about in about)
    settled = replace(said, seen=(Seen(plan_day=DAY, revision=2, arrived=True),))
    after = open_points(plan, Known(built={}, revisions={}, decided={said.about: settled}), plan.now)
    assert said.about not in {row.about for row in MorningView(found, after).decisions}


def test_that_missing_things_stand_by_case_with_who_told_and_what_stood_in() -> None:
    rows = {row.case: row for row in the_view().missing}
    whole = "; ".join(rows["C-1041 in OR 3"].things)
    assert "Suture, absorbable 0: 1 open; stand-in: Cement, bone, plain (reported by mk)" in whole
    assert rows["C-1041 in OR 3"].by == "07:00"


def test_that_what_was_decided_of_a_missing_thing_stands_beside_it() -> None:
    plan = rich_plan()
    short = next(iter(short_items(plan).values()))
    told = Decision(about=short.about, decided="take it from OR 2", told="Dr. Quill", by="mk", at=plan.now)
    known = Known(built={}, revisions={}, decided={short.about: told})
    rows = MorningView(Lookup(plan), open_points(plan, known, plan.now)).missing
    things = [thing for row in rows for thing in row.things if thing.startswith(short.name)]
    assert any(
        thing.endswith("; decided: take it from OR 2; informed: Dr. Quill, Wed 25 Nov 20:15") for thing in things
    )


def test_that_a_set_in_process_says_its_next_step_and_what_is_past() -> None:
    plan = rich_plan()
    at_work = {row.set_id: row for row in the_view().sets}
    assert set(at_work) == {"HIPA-02"}
    assert " by " in at_work["HIPA-02"].next
    slow = tuple(replace(one, ready=local("05:00")) if one.set_id == "HIPA-02" else one for one in plan.reuses)
    later = rich_plan(reuses=slow)
    row = MorningView(Lookup(later), the_points(later, local("04:00"))).sets[0]
    assert row.passed == "out of the room was due by 03:12"


def test_that_sets_to_put_back_are_named_and_all_else_is_counted() -> None:
    assert the_view().put_backs == (("C-1098", "BASIC-09, SAW-02 to cart C-1047, 4 other items"),)


def test_that_carts_stand_by_what_is_known_of_them() -> None:
    states = {row.state: row.carts for row in the_view().carts}
    assert "C-1041" in states["built; list 2 is new, its changes are not reported as made"]
    assert "C-1060" in states["not started"]


def test_that_a_quiet_evening_says_that_nothing_is_open() -> None:
    cart = rich_plan().carts[2]
    whole = tuple(line for line in cart.sundries if not (line.short_open or line.short_hold))
    plan = rich_plan(clusters=(), reuses=(), carts=(replace(cart, sundries=whole),))
    told = BuiltCart(day=DAY, case="C-1060", revision=2, at=plan.now, done=True)
    known = Known(built={"C-1060": told}, revisions={"C-1060": 2}, decided={})
    view = MorningView(Lookup(plan), open_points(plan, known, plan.now))
    assert view.nothing
    assert view.counts == "As of Wed 25 Nov 20:15: nothing"


def printed(plan: Plan, out: Path) -> PrintedPage:
    view = MorningView(Lookup(plan), the_points(plan))
    return print_page(out.parent / "site", view, "morning", out, plan.now, plan.settings.site_clock)


def test_that_the_page_is_one_page_and_replaces_the_former_whole(tmp_path: Path) -> None:
    plan = rich_plan()
    target = tmp_path / "morning.pdf"
    target.write_bytes(b"yesterday's")
    assert "former one is kept" in printed(plan, target).notices[0]
    with pypdfium2.PdfDocument(target) as document:
        assert len(document) == 1
    assert [path.name for path in tmp_path.iterdir() if path.is_file()] == ["morning.pdf"]


def test_that_a_page_that_cannot_be_written_leaves_nothing_half_done(tmp_path: Path) -> None:
    plan = rich_plan()
    taken = tmp_path / "taken"
    taken.write_text("a file where a folder is wanted", encoding="utf-8")
    with pytest.raises(WrongUse, match="taken"):
        printed(plan, taken / "morning.pdf")
    assert list(tmp_path.iterdir()) == [taken]


def test_that_the_command_says_when_nothing_was_built(tmp_path: Path) -> None:
    code, _, said = run("morning", str(tmp_path), "--out", str(tmp_path / "m.pdf"), "--now", NOW)
    assert code == WRONG_USE
    assert "no lists were built" in said
    assert list(tmp_path.iterdir()) == []
    code, _, said = run("morning", str(tmp_path / "mistyped"), "--out", str(tmp_path / "m.pdf"), "--now", NOW)
    assert (code, said) == (WRONG_USE, f"picklist: there is no folder {tmp_path / 'mistyped'}\n")


def test_that_however_many_cases_the_schedule_has_changed_since_each_is_on_the_page() -> None:
    plan = rich_plan()
    cases = tuple(replace(plan.cases[0], number=f"C-{number}") for number in range(2000, 2050))
    rows = since_rows(Lookup(plan), SinceBuilt(added=cases))
    view = otherwise(the_view(), since=rows)
    data = CharacterCheck(fonts_of_sheets()).everywhere(as_data(view))
    [row] = data["since"]
    assert len(row["cases"]) == len(cases)
    assert not [one for one in row["cases"] if "[cut]" in one]


def test_that_a_set_in_process_has_the_ready_time_and_the_pace_of_every_other_paper() -> None:
    """HIPA-02 is to be ready at night at usual pace; in today's queue at 07:20, 20 min after its cart is due."""
    plan = rich_plan()
    assert plan.department
    due, ready = local("07:00"), local("07:20")
    way = replace(
        plan.department.runs[0], set_id="HIPA-02", from_case="", for_case="C-1041", ready=ready, due=due, late=20
    )
    queued = rich_plan(department=replace(plan.department, runs=(*plan.department.runs, way)))
    rows = MorningView(Lookup(queued), the_points(queued, local("05:00"))).sets
    assert [(row.set_id, row.spare, row.late) for row in rows] == [
        ("HIPA-02", "planned 20 min late in today's queue", True)
    ]
    [row] = the_view().sets
    assert row.spare == "7 h 17 min to spare at usual pace"
