"""A scenario in which a case moves says of every tray what one made anew says."""

from __future__ import annotations

import random
from functools import partial

from picklist.sets.followers import shifted
from picklist.sets.planning_context import PlanningContext, Scenario
from tests.builders import at
from tests.sets.days import random_day


def test_that_cases_moved_one_after_the_other_leave_what_a_scenario_made_anew_has() -> None:
    site, uses = random_day(7, cases=9, rooms=3, trays=4, per_case=(1, 3))
    groups = PlanningContext(site, at("05:00")).groups
    draw, scenario = random.Random(7), Scenario(uses=uses)
    for case in draw.choices(site.cases, k=12):
        asked = draw.choice(groups)
        scenario.uses_in(asked)  # what is known of a tray before the move goes along with it
        scenario = scenario.with_case(case.number, partial(shifted, minutes=draw.randrange(-90, 90), building="West"))
        anew = Scenario(uses=scenario.uses)
        assert all(use.building == "West" for use in scenario.uses_of(case.number))
        assert [scenario.uses_in(group) for group in groups] == [anew.uses_in(group) for group in groups]
        assert [scenario.uses_of(one.number) for one in site.cases] == [anew.uses_of(one.number) for one in site.cases]
    assert scenario.uses != uses
    assert [use.key for use in scenario.uses] == [use.key for use in uses]
