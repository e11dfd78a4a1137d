"""A change is tried in words or by a remedy's button; the evening itself stays as it is."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from html import unescape

import pytest

from picklist.clock import shift
from picklist.model.conflicts import Edit, RemedyKind
from picklist.model.plan import Plan
from picklist.model.sets import SetState
from picklist.server.desk import Desk
from picklist.server.trying import ROWS, TriedChanges
from picklist.tasks.errors import WrongUse
from picklist.tasks.read_folder import list_files, load_folder
from picklist.tasks.try_out import try_on_plan, try_words
from picklist.wording.edits import read_edit, write_edit
from tests.server.forms import fields_of
from tests.server.site import DOOR, HOSPITAL, NOW, at, client_of, work_of
from tests.tasks.small_folder import tell_by_scans

SHORT = "C-4123"


def plan_of(desk: Desk) -> Plan:
    plan = desk.plan()
    assert plan is not None
    return plan


def try_it(desk: Desk, page: str, form: Mapping[str, str | list[str]]) -> tuple[TriedChanges, str]:
    """What came of a trial, and its page."""
    client = client_of(desk)
    answer = client.post(at(page), data={"token": DOOR.token, **form})
    assert answer.status_code == 303, answer.text
    work = work_of(desk, answer.headers["location"])
    assert isinstance(work.result, TriedChanges), work.refused
    return work.result, client.get(at(work.next)).text


def test_a_remedy_tried_removes_its_conflict_and_writes_nothing(evening: Desk) -> None:
    plan, files = plan_of(evening), list_files(evening.folder)
    [conflict] = [one for one in plan.conflicts if one.waiter == SHORT]
    trial, page = try_it(evening, "try/remedy", {"conflict": conflict.id, "remedy": "0"})
    assert conflict.id in {one.id for one in trial.answer.tried.gone}
    assert not trial.answer.tried.new
    assert conflict.id not in {one.id for one in trial.after.conflicts}
    assert "Gone" in page
    assert list_files(evening.folder) == files
    assert plan_of(evening) == plan


def test_the_page_says_the_chance_that_remains_where_days_are_simulated(evening: Desk) -> None:
    """The evening of these tests simulates none; all that a trial notes stands on its page, and is read out."""
    plan, words = plan_of(evening), [f"move {SHORT} to 15:30"]
    drawing = replace(plan, settings=replace(plan.settings, draws=50))
    answer, _ = try_on_plan(evening.folder, drawing, words, NOW)
    assert any(one.startswith(f"case {SHORT}, ") and "then late in" in one for one in answer.notes)
    assert set(answer.notes) <= set(answer.lines)
    trial, page = try_it(evening, "try", {"0-case": SHORT, "0-time": "15:30"})
    assert trial.answer.notes
    assert all(note in unescape(page) for note in trial.answer.notes)


def test_the_board_of_a_trial_shows_the_case_where_it_would_be(evening: Desk) -> None:
    trial, _ = try_it(evening, "try", {"0-case": SHORT, "0-time": "15:30"})
    [before] = [cart for cart in trial.before.carts if cart.case.number == SHORT]
    [after] = [cart for cart in trial.after.carts if cart.case.number == SHORT]
    clock = trial.before.settings.site_clock
    assert clock.hhmm(after.case.start) == "15:30"
    assert after.complete_by - before.complete_by == after.case.start - before.case.start
    assert {line.need.thing for line in after.trays} == {line.need.thing for line in before.trays}
    others = [cart for cart in trial.after.carts if cart.case.number != SHORT]
    assert [cart.sundries for cart in others] == [
        cart.sundries for cart in trial.before.carts if cart.case.number != SHORT
    ]


def test_changes_are_tried_together_and_each_can_be_dropped(evening: Desk) -> None:
    trial, page = try_it(evening, "try", {"change": ["move C-4123 to 15:30"], "6-case": "C-4122"})
    assert trial.changes == ("move C-4123 to 15:30", "cancel C-4122")
    assert "C-4122" not in {cart.case.number for cart in trial.after.carts}
    assert page.count('name="change"') == 2


def test_what_the_sheet_lists_first_can_be_filled_in_too(evening: Desk) -> None:
    trial, _ = try_it(evening, "try", {"8-tray": "T-SFRAG", "8-case": SHORT})
    assert trial.changes == (f"without T-SFRAG for {SHORT}",)


@pytest.mark.parametrize(
    ("form", "says"),
    [
        ({}, "fill in one of the lines"),
        ({"0-case": SHORT}, "the time"),
        ({"4-case": SHORT}, "the tray and the tray instead"),
    ],
)
def test_a_line_half_filled_says_what_is_missing(evening: Desk, form: dict[str, str], says: str) -> None:
    answer = client_of(evening).post(at("try"), data={"token": DOOR.token} | form)
    assert answer.status_code == 422
    assert says in answer.text
    assert {name: fields_of(answer.text)[name] for name in form} == form


def test_a_refused_trial_keeps_what_was_typed_and_what_was_tried_before(evening: Desk) -> None:
    client = client_of(evening)
    typed = {"change": "cancel C-4122", "0-case": "4123", "0-time": "3pm", "1-case": SHORT, "1-other": "C-41299"}
    answer = client.post(at("try"), data={"token": DOOR.token} | typed)
    page = client.get(at(work_of(evening, answer.headers["location"]).next)).text
    assert "there is no case C-41299" in page
    fields = fields_of(page)
    assert {name: fields[name] for name in typed} == typed


def test_the_page_answers_as_the_terminal_does_with_the_queue_and_the_new_times(evening: Desk) -> None:
    hurried = next(one for one in plan_of(evening).reuses if one.giver and one.waiter not in (SHORT, "C-4105"))
    step = hurried.walk.steps[0].step
    swap = {"0-case": "4123", "0-time": "3pm", "1-case": "4105", "1-other": "4106"}
    faster = {"5-case": hurried.waiter, "5-tray": hurried.tray, "5-step": step, "5-minutes": "999"}
    trial, page = try_it(evening, "try", swap | faster)
    words = ["move 4123 to 3pm", "swap 4105 and 4106", f"faster {hurried.waiter} {hurried.tray} {step} 999"]
    said = try_words(evening.folder, words, NOW, trial.before.day)
    assert said.lines == trial.answer.lines
    assert said.after == trial.after.conflicts
    assert trial.after.department == said.run
    assert [note for note in said.notes if note not in unescape(page)] == []
    assert [note for note in said.notes if f"{step} of {hurried.set_id} can" in note]
    assert {one.number for _, one in said.tried.moved} == {"C-4105", "C-4106", SHORT}
    assert f'<strong class="large">{len(said.after)}</strong> after' in page
    assert {one.id for one in trial.before.conflicts} == {one.id for one in said.before}


def test_a_case_that_is_not_there_is_named_with_the_nearest(evening: Desk) -> None:
    answer = client_of(evening).post(at("try"), data={"token": DOOR.token, "6-case": "C-41233"})
    work = work_of(evening, answer.headers["location"])
    refused = client_of(evening).get(at(work.next))
    assert refused.status_code == 422
    assert "there is no case C-41233" in refused.text
    assert SHORT in refused.text


def test_after_the_input_changed_it_must_be_built_before_trying(evening: Desk) -> None:
    lots = evening.folder / "Lots.csv"
    lots.write_bytes(lots.read_bytes())
    answer = client_of(evening).post(at("try"), data={"token": DOOR.token, "6-case": SHORT})
    assert answer.status_code == 422
    assert "build again" in answer.text


@pytest.mark.parametrize("hours", [12, 24])
def test_the_words_of_an_edit_read_back_as_the_edit(hours: int) -> None:
    site = load_folder(HOSPITAL, NOW).site
    assert site is not None
    clock = type(site.settings.site_clock)(site.settings.time_zone, hours)
    case = next(one for one in site.cases if one.number == SHORT)
    other = next(one for one in site.cases if one.number == "C-4121")
    later = shift(case.start, 35)
    step = next(step.name for step in site.routes[site.trays["T-WRISTPL"].route].steps if " " in step.name)
    for edit in (
        Edit(kind=RemedyKind.SHIFT, case=SHORT, start=later),
        Edit(kind=RemedyKind.SWAP, case=SHORT, other_case=other.number),
        Edit(kind=RemedyKind.ROOM, case=SHORT, room="OR 9"),
        Edit(kind=RemedyKind.ROOM, case=SHORT, room="OR 9", start=later),
        Edit(kind=RemedyKind.CANCEL, case=SHORT),
        Edit(kind=RemedyKind.BRING, tray="T-WRISTPL", start=later),
        Edit(kind=RemedyKind.BRING, tray="T-WRISTPL", start=later, case=SHORT),
        Edit(kind=RemedyKind.BRING, tray="T-WRISTPL", start=shift(later, -24 * 60), case=SHORT),
        Edit(kind=RemedyKind.ACCEPT, tray="T-WRISTPL", start=shift(later, 24 * 60), case=SHORT),
        Edit(kind=RemedyKind.FASTER, case=SHORT, tray="T-WRISTPL", step=step, minutes=12),
        Edit(kind=RemedyKind.STAND_IN, case=SHORT, tray="T-WRISTPL", stand_in="T-HAND"),
    ):
        words = write_edit(edit, clock, case.day)
        assert read_edit(site, words, case.day) == (edit, ()), words


def test_every_row_of_the_form_stands_on_the_page(evening: Desk) -> None:
    page = client_of(evening).get(at("try")).text
    for number, fields in enumerate(ROWS.values()):
        for field in fields:
            assert f'name="{number}-{field}"' in page


def test_only_the_boards_of_a_trial_are_sent(evening: Desk) -> None:
    client = client_of(evening)
    assert client.get(at("try/99")).status_code == 404
    assert client.get(at("try/99/board/after")).status_code == 404
    _, page = try_it(evening, "try", {"6-case": SHORT})
    link = re.search(r"try/\d+/board/", page)
    assert link
    assert client.get(at(f"{link[0]}after")).headers["content-security-policy"].startswith("sandbox")
    assert client.get(at(f"{link[0]}sideways")).status_code == 404


def test_a_trial_leaves_the_set_that_the_crew_took_on_its_cart(evening: Desk) -> None:
    plan = plan_of(evening)
    given = {one.set_id for one in plan.assignments}
    spare = {one.tray: one for one in plan.sets if one.state is SetState.ON_SHELF and one.id not in given}
    cart, line = next((c, t) for c in plan.carts for t in c.trays if t.need.thing in spare and t.set_id)
    taken = spare[line.need.thing].id
    words = [f"CART {cart.case.number}", f"INSTEAD {line.set_id} {taken}", "BY QX", "DONE"]
    assert tell_by_scans(evening.folder, words, NOW, plan.day).kept
    trial, _ = try_it(evening, "try", {"0-case": cart.case.number, "0-time": "16:05"})
    [after] = [one for one in trial.after.carts if one.case.number == cart.case.number]
    assert taken in {one.set_id for one in after.trays}
    assert line.set_id not in {one.set_id for one in after.trays}


def test_the_board_after_a_trial_does_not_say_that_nothing_helps(evening: Desk) -> None:
    _, page = try_it(evening, "try", {"6-case": "C-4122"})
    link = re.search(r"try/\d+/board/", page)
    assert link
    client = client_of(evening)
    assert "no search for remedies" in client.get(at(f"{link[0]}after")).text
    assert "no search for remedies" not in client.get(at(f"{link[0]}before")).text


def test_a_change_that_is_none_is_not_repeated_where_it_names_a_patient(evening: Desk) -> None:
    with pytest.raises(WrongUse, match="seems to contain") as refused:
        try_words(evening.folder, ["move Oda Wrenfield, MRN 4471902, to 13:00"], NOW)
    assert "4471902" not in str(refused.value)
