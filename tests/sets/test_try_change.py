"""A change is tried, seen before and after, and leaves nothing behind. Days of our own, not published."""

from __future__ import annotations

from dataclasses import replace

import pytest

from picklist.department import ChanceAfter, run_department
from picklist.model.conflicts import ConflictKind, Edit, RemedyKind, conflicts_in
from picklist.model.objections import Lack, ObjectionKind
from picklist.model.schedule import Side
from picklist.model.sets import SetState
from picklist.model.site import Site
from picklist.model.uses import Use
from picklist.plan.make import add_queue
from picklist.plan.queue_check import QueueCheck
from picklist.sets.case_uses import make_uses
from picklist.sets.plan_sets import add_remedies, allocate_all_groups, compose, make_planned_day
from picklist.sets.remedies.planned_day import CannotTryError, apply_edits
from picklist.sets.try_change import Tried, try_change, with_edits
from picklist.tasks.try_out import plan_evening, try_edits
from picklist.wording.chances import chance_then
from picklist.wording.edits import FORMS, read_edit
from picklist.wording.trials import capped_step
from tests.builders import DAY, at, case, tray
from tests.sets.days import random_day
from tests.sets.test_conflicts import rush_day, wants, wrist_day

SITE = wrist_day(cases=(*wrist_day().cases, case("4", "12:00", 60, "R4")))
USES: tuple[Use, ...] = make_uses(SITE, [wants(number, "WRIST") for number in ("1", "2", "3")], SITE.cases)


def tried_on(site: Site, uses: tuple[Use, ...], edits: tuple[Edit, ...]) -> Tried:
    planned = make_planned_day(site, uses, at("05:00"))
    return try_change(planned, compose(planned), edits)


def tried(*words: str) -> Tried:
    edits = []
    for one in words:
        edit, problems = read_edit(SITE, one, DAY)
        assert edit is not None, problems
        edits.append(edit)
    return tried_on(SITE, USES, tuple(edits))


def test_moving_the_third_wrist_to_1320_leaves_it_tight() -> None:
    outcome = tried("move 3 to 13:20")
    assert not outcome.objection
    assert [one.kind for one in outcome.before.conflicts] == [ConflictKind.SHORT]
    assert [(one.kind, one.minutes) for one in outcome.milder] == [(ConflictKind.TIGHT, 0)]
    assert not outcome.new


def test_moving_it_ten_minutes_too_early_is_still_short() -> None:
    outcome = tried("move 3 to 13:10")
    assert [(one.kind, one.minutes) for one in outcome.milder] == [(ConflictKind.SHORT, 10)]


@pytest.mark.parametrize("words", ["cancel 3", "cancel 1", "extra WRIST by 10:45", "extra wrist by 10:45 for 3"])
def test_a_cancelled_case_or_an_extra_set_ends_the_shortage(words: str) -> None:
    outcome = tried(words)
    assert [one.id for one in outcome.gone] == ["3/WRIST"]
    assert not outcome.after.conflicts


def test_a_set_that_is_completed_for_two_cases_is_one_set() -> None:
    """Cases 1 and 2 overlap, and the one set of their tray is incomplete: completed for both, it serves the first."""
    site = replace(SITE, sets={"WRIST-01": replace(SITE.sets["WRIST-01"], state=SetState.INCOMPLETE)})
    uses = tuple(use for use in USES if use.case in ("1", "2"))
    moments = {"1": at("06:00"), "2": at("06:30")}
    for numbers in (("1", "2"), ("2", "1")):
        edits = (
            Edit(kind=RemedyKind.COMPLETE, case=number, tray="WRIST", start=moments[number], set_id="WRIST-01")
            for number in numbers
        )
        outcome = tried_on(site, uses, tuple(edits))
        assert [one.id for one in outcome.before.conflicts] == ["1/WRIST", "2/WRIST"]
        assert [one.id for one in outcome.after.conflicts] == ["2/WRIST"]


def test_an_extra_set_after_the_need_does_not_help() -> None:
    outcome = tried("extra WRIST by 10:50")
    assert [(one.kind, one.minutes) for one in outcome.after.conflicts] == [(ConflictKind.SHORT, 5)]


def test_what_rooms_and_people_object_to_is_said_and_computed_all_the_same() -> None:
    outcome = tried("room 3 to r4")
    assert outcome.objection is not None
    assert (outcome.objection.kind, outcome.objection.case.room) == (ObjectionKind.ROOM_TAKEN, "R4")
    assert [one.kind for one in outcome.after.conflicts] == [ConflictKind.SHORT]


def test_a_swap_exchanges_places_and_keeps_the_gaps() -> None:
    planned = make_planned_day(SITE, USES, at("05:00"))
    edit, _ = read_edit(SITE, "swap 2 and 4", DAY)
    assert edit is not None
    after = apply_edits(planned, (edit,)).cases
    # R4: 08:00 (135), gap 105, 12:00 (60); exchanged the short one goes first.
    assert (after["4"].start, after["2"].start) == (at("08:00"), at("10:45"))


def test_a_faster_step_turns_a_rush_into_a_tight_reuse() -> None:
    site = rush_day(90)
    uses = make_uses(site, [wants("1", "WRIST"), wants("2", "WRIST")], site.cases)
    edit, problems = read_edit(site, "faster 2 WRIST assemble 45", DAY)
    assert edit is not None, problems
    outcome = tried_on(site, uses, (edit,))
    assert [(one.kind, one.minutes) for one in outcome.milder] == [(ConflictKind.TIGHT, 5)]


def test_a_step_is_never_hurried_below_its_least_minutes() -> None:
    site = rush_day(90)
    uses = make_uses(site, [wants("1", "WRIST"), wants("2", "WRIST")], site.cases)
    edits = tuple(
        Edit(kind=RemedyKind.FASTER, case="2", tray="WRIST", step=step, minutes=500)
        for step in ("wash", "assemble", "cool")
    )
    reuse = tried_on(site, uses, edits).after.reuses[0]
    assert reuse.ready == reuse.least_ready == at("11:50")


def test_nothing_is_changed_by_trying() -> None:
    before = compose(make_planned_day(SITE, USES, at("05:00")))
    tried("cancel 1", "move 3 to 14:00")
    assert compose(make_planned_day(SITE, USES, at("05:00"))) == before


def test_an_unknown_case_is_refused() -> None:
    with pytest.raises(CannotTryError) as cannot:
        tried_on(SITE, USES, (Edit(kind=RemedyKind.CANCEL, case="77"),))
    assert (cannot.value.lack, cannot.value.names) == (Lack.CASE, ("77",))


@pytest.mark.parametrize("seed", range(8))
def test_planning_only_what_an_edit_touches_gives_the_whole_plan(seed: int) -> None:
    site, uses = random_day(seed, cases=24, rooms=6, trays=9, per_case=(1, 4), spare=1.2)
    planned = make_planned_day(site, uses, at("05:00"))
    number = sorted(planned.cases)[seed]
    for edit in (
        Edit(kind=RemedyKind.SHIFT, case=number, start=at("15:00")),
        Edit(kind=RemedyKind.CANCEL, case=number),
        Edit(kind=RemedyKind.BRING, tray="T-001", start=at("09:00")),
    ):
        edited = apply_edits(planned, (edit,))
        changed = with_edits(planned, edited)
        assert dict(changed.plans) == allocate_all_groups(planned.context, edited.scenario)


@pytest.mark.parametrize(
    ("words", "nearest", "kind"),
    [
        ("move 33 to 13:20", ("3",), "no case 33"),
        ("move 3 to 25:00", (), "not a time of day"),
        ("faster 3 WRIST washh 5", ("wash",), "no step washh"),
        ("extra WRIS by 10:00", ("WRIST",), "no tray WRIS"),
        ("room 3 to R9", ("R4", "R3"), "no room R9"),
        ("shove 3", (), "not a change"),
        ("move 3", (), "not a change"),
        ("", (), "not a change"),
    ],
)
def test_words_that_are_not_understood_name_what_is_near(words: str, nearest: tuple[str, ...], kind: str) -> None:
    edit, problems = read_edit(SITE, words, DAY)
    assert edit is None
    assert len(problems) == 1
    assert set(problems[0].nearest) == set(nearest)
    assert kind in problems[0].message
    assert problems[0].expected


def test_every_form_that_is_offered_is_understood() -> None:
    values = {
        "CASE": "3",
        "TRAY": "WRIST",
        "SET": "WRIST-01",
        "ROOM": "R4",
        "HH:MM": "9:05 am",
        "STEP": "wash",
        "MINUTES": "10",
    }
    for form in FORMS:
        words = form
        for word, value in values.items():
            words = words.replace(word, value)
        edit, problems = read_edit(SITE, words, DAY)
        assert edit is not None, (words, problems)
    for typed, meant in (
        ("3pm", "15:00"),
        ("3 p.m.", "15:00"),
        ("12am", "00:00"),
        ("1320", "13:20"),
        ("9.05", "09:05"),
    ):
        edit, problems = read_edit(SITE, f"move 3 to {typed}", DAY)
        assert edit == Edit(kind=RemedyKind.SHIFT, case="3", start=at(meant)), (typed, problems)
    edit, _ = read_edit(SITE, "room 3 to R4 at 9:05 am", DAY)
    assert edit == Edit(kind=RemedyKind.ROOM, case="3", room="R4", start=at("09:05"))


ODD = ("C 12", "C 12 b", "ü/7", "007", "50%", "#9", "and")
ODD_DAY = wrist_day(cases=tuple(case(number, f"{8 + n:02}:00", 30, f"Saal {n}") for n, number in enumerate(ODD)))


@pytest.mark.parametrize("number", ODD)
@pytest.mark.parametrize("form", ["move {} to 13:20", "cancel {}", "room {} to Saal 2", "extra WRIST by 10:45 for {}"])
def test_a_case_number_may_hold_any_sign(number: str, form: str) -> None:
    edit, problems = read_edit(ODD_DAY, form.format(number), DAY)
    assert edit is not None, problems
    assert edit.case == number


@pytest.mark.parametrize("number", ODD)
def test_two_numbers_with_spaces_are_told_apart(number: str) -> None:
    for other in ODD:
        edit, problems = read_edit(ODD_DAY, f"swap {number} and {other}", DAY)
        assert edit is not None, problems
        assert (edit.case, edit.other_case) == (number, other)


def test_a_mistyped_number_with_a_space_is_named_with_the_nearest() -> None:
    edit, [problem] = read_edit(ODD_DAY, "move C 12 c to 13:20", DAY)
    assert edit is None
    assert "no case C 12 c" in problem.message
    assert "C 12 b" in problem.nearest


def test_figures_alone_name_a_case_and_a_trays_name_the_tray() -> None:
    numbers = {"C-4128": "3", "C-4129": "2", "D-128": "1"}
    cases = tuple(replace(one, number=number) for number, one in zip(numbers, SITE.cases, strict=False))
    site = replace(SITE, cases=cases)
    for word in ("4128", "C-4128", "c-4128"):
        edit, problems = read_edit(site, f"extra Wrist by 10:00 for {word}", DAY)
        assert edit == Edit(kind=RemedyKind.BRING, case="C-4128", tray="WRIST", start=at("10:00")), problems
    edit, [problem] = read_edit(site, "cancel 28", DAY)
    assert edit is None
    assert "no case 28" in problem.message


def test_a_swap_says_the_new_times_of_all_that_it_moves() -> None:
    moved = {was.number: (was.start, now.start) for was, now in tried("swap 2 and 4").moved}
    assert moved == {"2": (at("08:00"), at("10:45")), "4": (at("12:00"), at("08:00"))}


def test_a_step_that_cannot_be_as_fast_as_was_asked_is_named() -> None:
    site = rush_day(90)
    uses = make_uses(site, [wants("1", "WRIST"), wants("2", "WRIST")], site.cases)
    asked = {"assemble": 500, "wash": 10}
    edits = tuple(
        Edit(kind=RemedyKind.FASTER, case="2", tray="WRIST", step=step, minutes=minutes)
        for step, minutes in asked.items()
    )
    capped = tried_on(site, uses, edits).capped
    said = [capped_step(one.set_id, one.step, one.usual, one.least) for one in capped]
    assert len(said) == 2
    assert "assemble of WRIST-01 can be" in said[0]
    assert "wash of WRIST-01 cannot be faster" in said[1]


def test_an_extra_set_for_nobody_in_particular_helps_the_case_on_either_side() -> None:
    sided = {"WRIST": tray("WRIST", sided=True)}
    site = wrist_day(trays=sided, sets={}, cases=(case("1", "07:30", 60),))
    need = replace(wants("1", "WRIST").needs[0], side=Side.LEFT)
    uses = make_uses(site, [replace(wants("1", "WRIST"), needs=(need,))], site.cases)
    edit, problems = read_edit(site, "extra WRIST by 6:30", DAY)
    assert edit is not None, problems
    assert not tried_on(site, uses, (edit,)).after.conflicts


def test_a_remedy_that_is_tried_says_the_chance_that_the_sheet_says() -> None:
    settings = replace(SITE.settings, draws=200)
    site, now = replace(SITE, settings=settings), at("05:00")
    needs = tuple(wants(number, "WRIST") for number in ("1", "2", "3"))
    planned = make_planned_day(site, USES, now)
    plan = compose(planned)
    run = run_department(site, plan.assignments, now)
    check = QueueCheck(site, planned, run, now, ChanceAfter(site, now, run))
    (conflict,) = conflicts_in(add_remedies(planned, add_queue(site, plan, now, run), check))
    told = [one for one in conflict.remedies if one.chance_left is not None]
    assert len(told) > 2
    evening = plan_evening(site, (site.cases, needs), now)
    for remedy in told:
        assert remedy.chance_left is not None
        then = chance_then(200, remedy.chance_left, remedy.chance_if_hurried)
        answer = try_edits(evening, remedy.edits)
        assert f"case 3, Wrist: {then}" in answer.lines, remedy.text
    # An unserved case is late for certain, and is said to be short; a set on the shelf leaves nothing to chance.
    for words in ("move 3 to 13:10", "cancel 1"):
        edit, _ = read_edit(site, words, DAY)
        assert edit is not None
        assert not any("then late" in one for one in try_edits(evening, (edit,)).lines)


def test_that_what_is_said_of_untouched_trays_is_what_planning_anew_says() -> None:
    site, uses = random_day(5, cases=30, rooms=8, trays=8, spare=0.8)
    planned = make_planned_day(site, uses, at("05:00"))
    before = compose(planned)
    number = before.conflicts[0].waiter
    edit, problems = read_edit(site, f"move {number} to 18:00", DAY)
    assert edit is not None, problems
    after = try_change(planned, before, (edit,)).after
    anew = with_edits(planned, apply_edits(planned, (edit,)))
    fresh = compose(replace(anew, plans={key: replace(one, described={}) for key, one in anew.plans.items()}))
    assert after == fresh
    assert after.conflicts != before.conflicts
