"""Cases whose lists are stopped take no set and are in no conflict: the papers say so wherever they count."""

from __future__ import annotations

from dataclasses import replace

from picklist.documents.board.view import BoardView
from picklist.documents.views.conflict_sheet import ConflictsView
from picklist.documents.views.evening_sheet import EveningView
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.stamp import printing_of
from picklist.model.plan import Plan
from picklist.model.schedule import Case
from picklist.plan import PlanRequest, make_plan
from picklist.problems import NOWHERE, Problem, Severity
from tests.builders import DAY, at, case, tray
from tests.plan.nights import hospital, shelf

NOW = at("18:00", -1)
SIDED = (tray("wrist", sided=True),)


def plan_of(*cases: Case, problems: tuple[Problem, ...] = ()) -> Plan:
    order = PlanRequest(day=DAY, now=NOW, with_chance=False, with_remedies=False)
    return make_plan(hospital(cases, (shelf("wrist-01"),)), problems, order)


def stops(number: str) -> Problem:
    return Problem(
        kind="x", severity=Severity.STOPS_CASE, where=NOWHERE, message="nobody knows the side", cases=(number,)
    )


def told(plan: Plan) -> set[str]:
    """What the conflict sheet, the evening page and the board say."""
    found = Lookup(plan)
    board = BoardView(plan).counts.partition(". ")[2]
    return {ConflictsView(found).left_out, EveningView(found, lambda _case: printing_of(plan)).not_counted, board}


def test_a_case_stopped_by_a_problem_is_named_where_conflicts_are_counted() -> None:
    """Two cases at once and one set: with C2 stopped there is no conflict to be seen, and the sheet says why."""
    cases = (case("C1", "08:00", 60), case("C2", "08:30", 60, "OR 2"))
    assert len(plan_of(*cases).clusters) == 1
    plan = plan_of(*cases, problems=(stops("C2"),))
    assert plan.clusters == ()
    assert plan.uncounted == ("C2",)
    assert told(plan) == {
        "Case C2 is on hold: its trays are not counted here. Once fixed, it may take sets from others."
    }


def test_a_case_stopped_while_its_cards_are_resolved_is_named_too() -> None:
    blank = case("C1", "08:00", 60)
    site = hospital((blank, case("C2", "09:00", 60, side=None)), (shelf("wrist-01"),), trays=SIDED)
    plan = make_plan(site, (), PlanRequest(day=DAY, now=NOW, with_chance=False))
    assert plan.uncounted == ("C1", "C2")


def test_one_without_a_day_or_room_and_one_of_a_later_day_are_named_as_people_count() -> None:
    later = replace(case("C10", "08:00", 60), day=at("08:00", 1).date(), start=at("08:00", 1))
    plan = plan_of(case("C1", "08:00", 60), later, problems=(stops("C10"), stops("C9")))
    assert plan.uncounted == ("C10", "C9")
    (said,) = told(plan)
    assert said.startswith("Cases C9 and C10 are on hold: their trays are not counted here.")


def test_of_many_the_first_are_named() -> None:
    cases = [case(f"C{n}", "08:00", 60, f"OR {n}") for n in range(1, 16)]
    plan = plan_of(*cases, problems=tuple(stops(one.number) for one in cases[:14]))
    (said,) = told(plan)
    assert "C11, C12 and 2 more are on hold" in said


def test_nothing_is_said_when_nothing_is_stopped() -> None:
    assert told(plan_of(case("C1", "08:00", 60))) == {""}
