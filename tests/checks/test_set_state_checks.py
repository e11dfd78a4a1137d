"""States that contradict themselves, the route, the schedule or the clock are problems with a place."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from picklist.checks.route_checks import find_dead_ends
from picklist.checks.set_state_checks import find_late_loans, find_state_problems
from picklist.model.routes import Departure, Station, Transfer, WorkPeriod
from picklist.model.schedule import Case, CaseStatus
from picklist.model.sets import InstrumentSet, SetState
from picklist.model.site import Site
from picklist.problems import Severity, Where
from picklist.wording.say_conflicts import statement
from tests.builders import at, case, copies, straight_route, tray, utc_settings
from tests.sets.test_conflicts import only, planned, wants, wrist_day

NOW = at("20:00", -1)


def last_night(one: Case) -> Case:
    return replace(one, start=one.start - timedelta(days=1), status=CaseStatus.RUNNING)


SITE = Site(
    settings=utc_settings(),
    cases=(
        case("1", "07:30", 60),
        case("2", "07:30", 60, status=CaseStatus.CANCELLED),
        last_night(case("3", "19:30", 60)),
        replace(last_night(case("4", "18:30", 120)), status=CaseStatus.DONE),
    ),
    routes={"R": straight_route("R", ("wash", 60, 60), ("steam", 60, 60))},
    trays={"T": tray("T")},
)
HERE = Where(file="site.xlsx", sheet="Sets", row=7)


def one_set(state: str, **changes: object) -> InstrumentSet:
    return InstrumentSet(id="T-01", tray="T", state=SetState(state), where=HERE, **changes)  # type: ignore[arg-type]


WRONG = [
    ("step of another route", "step", one_set("at step", step="polish")),
    ("step of another route", "step", one_set("at step")),
    ("time to come", "step since", one_set("at step", step="wash", step_since=NOW + timedelta(minutes=1))),
    ("old record", "step since", one_set("dirty", step_since=NOW - timedelta(days=8))),
    ("in use in no case", "in case", one_set("in use", in_case="99")),
    ("in use in no case", "in case", one_set("in use")),
    ("in use in a cancelled case", "in case", one_set("in use", in_case="2")),
    ("in use too soon", "in case", one_set("in use", in_case="1")),
    ("in use in a done case", "in case", one_set("in use", in_case="4")),
    ("away without end", "back at", one_set("away")),
    ("time past", "back at", one_set("away", back_at=NOW - timedelta(minutes=1))),
    ("time past", "return by", one_set("on loan", return_by=NOW)),
    ("time past", "return by", one_set("on loan", back_at=at("09:00"), return_by=at("08:00"))),
    ("time to come", "recorded sterile at", one_set("on shelf", recorded_at=NOW + timedelta(hours=1))),
    ("record ended", "recorded sterile until", one_set("on shelf", recorded_until=NOW - timedelta(hours=1))),
    (
        "record ends before it begins",
        "recorded sterile until",
        one_set("dirty", recorded_at=NOW - timedelta(hours=1), recorded_until=NOW - timedelta(hours=2)),
    ),
    ("set in two places", "in case", one_set("on shelf", in_case="3")),
    ("set in two places", "back at", one_set("on shelf", back_at=at("06:00"))),
    ("set in two places", "back at", one_set("dirty", back_at=at("06:00"))),
    ("set in two places", "step", one_set("in use", in_case="3", step="wash")),
]


@pytest.mark.parametrize(("kind", "column", "one"), WRONG)
def test_a_state_that_cannot_be_so(kind: str, column: str, one: InstrumentSet) -> None:
    (problem,) = find_state_problems(replace(SITE, sets={"T-01": one}), NOW)
    assert (problem.kind, problem.where) == (kind, replace(HERE, column=column))
    assert problem.expected


RIGHT = [
    one_set("on shelf", recorded_at=NOW, recorded_until=NOW + timedelta(days=1)),
    one_set("dirty", step_since=NOW),
    one_set("at step", step="steam", step_since=NOW - timedelta(hours=1)),
    one_set("in use", in_case="3"),
    one_set("on shelf", back_at=NOW, return_by=at("18:00")),
    one_set("away", back_at=at("06:00")),
    one_set("on loan", back_at=at("06:00"), return_by=at("06:01")),
    one_set("incomplete"),
    one_set("unknown"),
]


@pytest.mark.parametrize("one", RIGHT)
def test_a_state_that_can_be_so(one: InstrumentSet) -> None:
    assert find_state_problems(replace(SITE, sets={"T-01": one}), NOW) == ()


def test_a_step_whose_station_is_never_open_long_enough_is_a_dead_end() -> None:
    route = straight_route("R", ("wash", 60, 60), ("drive", 20, 20))
    wash, drive = route.steps
    steps = (replace(wash, station="washers", where=HERE), replace(drive, run="van", where=HERE))
    site = replace(
        SITE,
        routes={"R": replace(route, steps=steps)},
        stations={"washers": Station(id="washers")},
        hours=(WorkPeriod(station="washers", weekday=0, opens=at("06:00").time(), closes=at("06:59").time()),),
        transfers=(Transfer(from_building="Main", to_building="Annex", minutes=10, run="ferry"),),
    )
    found = find_dead_ends(site, NOW)
    assert [(one.kind, one.where.column, one.value) for one in found] == [
        ("route never ends", "station", "washers"),
        ("route never ends", "run", "van"),
        ("route never ends", "run", "ferry"),
    ]
    longer = (replace(site.hours[0], closes=at("07:00").time()),)
    leaving = tuple(Departure(run=run, weekday=0, leaves=at("09:00").time()) for run in ("van", "ferry"))
    assert find_dead_ends(replace(site, hours=longer, departures=leaving), NOW) == ()


def test_a_loan_that_comes_later_than_the_site_allows_is_a_notice() -> None:
    """The case starts 11:15; with 6 hours for loans its set should be here by 05:15."""
    for hours, back, told in ((6, at("05:20"), True), (6, at("05:15"), False), (0, at("05:20"), False)):
        site = wrist_day(
            cases=(case("3", "11:15", 60, "R3"),),
            sets={one.id: replace(one, state=SetState.ON_LOAN, back_at=back) for one in copies("WRIST", 1).values()},
        )
        site = replace(site, settings=replace(site.settings, loan_hours=hours))
        plan = planned(site, wants("3", "WRIST"), now="04:00")
        found = tuple(find_late_loans(site, plan.assignments))
        assert [(one.kind, one.severity, one.cases) for one in found] == (
            [("loan comes late", Severity.NOTICE, ("3",))] if told else []
        )


def test_a_loan_that_comes_too_late_says_by_when_it_would_have_to_be_here() -> None:
    """Needed 10:45, the route takes 190 minutes: here by 07:35 would do, it is expected 09:00."""
    sets = {one.id: replace(one, state=SetState.ON_LOAN, back_at=at("09:00")) for one in copies("WRIST", 1).values()}
    site = wrist_day(cases=(case("3", "11:15", 60, "R3"),), sets=sets)
    conflict = only(planned(site, wants("3", "WRIST")))
    text = statement(conflict, site.settings.site_clock)
    assert "For that it would have to be here by 07:35; it is expected 09:00." in text
