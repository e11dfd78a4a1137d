"""Only a problem that stops a case takes its list away; one to mend is told, and the list is printed."""

from __future__ import annotations

import pytest

from picklist.plan import PlanRequest, make_plan
from picklist.problems import Problem, Severity, Where
from picklist.wording.say_carts import unfit_answer
from tests.builders import DAY, at, case
from tests.plan.nights import cart_of, hospital, shelf


def problem(severity: Severity) -> Problem:
    return Problem(kind="k", severity=severity, where=Where(file="schedule.xlsx"), message="m", cases=("C1",))


@pytest.mark.parametrize(
    ("told", "stopped"),
    [
        (problem(Severity.STOPS_CASE), True),
        (problem(Severity.TO_FIX), False),
        (problem(Severity.NOTICE), False),
        (unfit_answer("C1", "C9", "names C9, of which there is no list"), False),
    ],
)
def test_that_a_list_is_stopped_by_what_stops_it_alone(told: Problem, stopped: bool) -> None:
    site = hospital([case("C1", "08:00", 60)], [shelf("wrist-01")])
    plan = make_plan(site, (told,), PlanRequest(day=DAY, now=at("18:00", -1), with_chance=False))
    cart = cart_of(plan, "C1")
    assert told.for_paper() in plan.problems
    assert bool(cart.stopped) is stopped
    assert [line.set_id for line in cart.trays] == ([] if stopped else ["wrist-01"])
