"""From a set's recorded state to when it is usable first."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from picklist.model.catalogue import Place
from picklist.model.routes import Departure, Route, Station, Step, StepOnlyFor, Transfer, WorkPeriod
from picklist.model.schedule import Case, CaseStatus
from picklist.model.sets import InstrumentSet, SetState
from picklist.model.site import Site
from picklist.model.uses import Act, Pace, Use
from picklist.sets.reuse import reuse_after, reuse_from_state
from picklist.sets.states import Availability, first_available, ready_for
from picklist.sets.turnaround import Turnaround
from tests.builders import at, case, tray, utc_settings

NOW = at("20:00", -1)  # the evening before

ROUTE = Route(
    id="R",
    steps=(
        Step(name="wash", usual_minutes=60, least_minutes=50, station="washers"),
        Step(name="assemble", after=("wash",), usual_minutes=40, least_minutes=20, station="crew"),
        Step(name="steam", after=("assemble",), usual_minutes=70, least_minutes=70, station="sterilizers"),
        Step(name="cool", after=("steam",), usual_minutes=45, least_minutes=30),
        Step(
            name="indicator",
            after=("steam",),
            usual_minutes=190,
            least_minutes=190,
            only_for=StepOnlyFor.IMPLANTS,
        ),
    ),
)


def site_of(*cases: Case, implants: bool = False, **groups: object) -> Site:
    base: dict[str, object] = {
        "settings": utc_settings(),
        "cases": cases,
        "routes": {"R": ROUTE},
        "trays": {"T": tray("T", implants=implants)},
    }
    return Site(**(base | groups))  # type: ignore[arg-type]


def one_set(state: SetState, **changes: object) -> InstrumentSet:
    return InstrumentSet(id="T-01", tray="T", state=state, **changes)  # type: ignore[arg-type]


def last_night(one: Case) -> Case:
    return replace(one, start=one.start - timedelta(days=1), status=CaseStatus.RUNNING)


def first(one: InstrumentSet, site: Site | None = None) -> Availability:
    return first_available(Turnaround(site or site_of()), one, NOW)


def use(start: str, building: str = "", day: int = 0) -> Use:
    starts = at(start, day)
    minutes = {"needed": -30, "starts": 0, "ends": 60, "leaves_room": 60, "received": 70}
    times: dict[str, datetime] = {
        name: datetime.fromtimestamp(starts.timestamp() + 60 * offset, tz=starts.tzinfo)
        for name, offset in minutes.items()
    }
    return Use(case="9", tray="T", copy=1, building=building, **times)  # type: ignore[arg-type]


def test_a_set_on_the_shelf_is_there_now() -> None:
    state = first(one_set(SetState.ON_SHELF))
    assert (state.on_shelf, state.ready, state.from_state) == (True, NOW, "on the shelf")
    assert reuse_from_state(Turnaround(site_of()), one_set(SetState.ON_SHELF), state, use("07:30")) is None


def test_a_set_on_the_shelf_is_not_late_for_a_cart_that_is() -> None:
    state = first(one_set(SetState.ON_SHELF))
    assert ready_for(Turnaround(site_of()), state, use("20:10", day=-1)) == at("19:40", -1)


def test_a_dirty_set_runs_its_whole_route() -> None:
    state = first(one_set(SetState.DIRTY))
    assert (state.ready, state.least_ready) == (at("23:35", -1), at("22:50", -1))


def test_a_set_at_a_step_keeps_the_minutes_that_are_left() -> None:
    state = first(one_set(SetState.AT_STEP, step="steam", step_since=at("19:20", -1)))
    assert (state.ready, state.least_ready) == (at("21:15", -1), at("21:00", -1))  # 30 min left, then cooling
    assert state.from_state == "at step steam since Wed 25 Nov 19:20"


def test_a_set_at_a_step_since_nobody_knows_when_begins_it_now() -> None:
    assert first(one_set(SetState.AT_STEP, step="steam")).ready == at("21:55", -1)


def test_a_step_that_should_have_ended_is_taken_as_ending_now() -> None:
    state = first(one_set(SetState.AT_STEP, step="assemble", step_since=at("17:00", -1)))
    assert state.ready == at("21:55", -1)
    assert "should have ended" in state.from_state


def test_the_indicator_has_run_beside_the_cooling_since_the_same_moment() -> None:
    cooling = one_set(SetState.AT_STEP, step="cool", step_since=at("18:00", -1))
    assert first(cooling, site_of(implants=True)).ready == at("21:10", -1)
    assert first(cooling).ready == NOW


def test_a_step_that_the_tray_does_not_take_leaves_what_follows_it() -> None:
    reading = one_set(SetState.AT_STEP, step="indicator", step_since=at("18:00", -1))
    assert first(reading).ready == at("21:10", -1)


def test_a_set_at_a_step_begun_before_closing_waits_for_opening() -> None:
    daily = tuple(
        WorkPeriod(station="sterilizers", weekday=day, opens=at("06:00").time(), closes=at("19:30").time())
        for day in range(7)
    )
    stations = {"sterilizers": Station(id="sterilizers", past_closing=True)}
    state = first(
        one_set(SetState.AT_STEP, step="steam", step_since=at("19:20", -1)), site_of(hours=daily, stations=stations)
    )
    assert state.ready == at("06:45")


def test_a_set_in_use_is_bound_until_the_case_ends_and_then_runs_its_route() -> None:
    running = last_night(case("5", "19:00", 120))
    one = one_set(SetState.IN_USE, in_case="5")
    site = site_of(running)
    state = first(one, site)
    assert (state.released, state.ready) == (at("21:10", -1), at("00:45"))
    assert (state.giver, state.from_state) == ("5", "in use in case 5 until about Wed 25 Nov 21:00")
    reuse = reuse_from_state(Turnaround(site), one, state, use("07:30"))
    assert reuse is not None
    assert (reuse.giver, reuse.slack, reuse.break_even, reuse.break_even_percent) == ("5", 375, 375, 312)
    out = reuse.deadline_of(Act.OUT_OF_ROOM)
    assert out is not None
    assert (out.latest, out.last_resort) == (at("03:15"), at("04:00"))


def test_a_case_that_overruns_gives_its_set_back_now_at_the_soonest() -> None:
    running = last_night(case("5", "15:00", 120))
    assert first(one_set(SetState.IN_USE, in_case="5"), site_of(running)).released == at("20:10", -1)


def test_a_set_still_recorded_in_a_case_that_is_done_is_dirty_from_now_on_however_long_the_case_was_planned() -> None:
    """Planned until 21:00, case 5 is done at 20:00: the set is received 20:10 and ready 3 h 35 min later."""
    done = replace(last_night(case("5", "19:00", 120)), status=CaseStatus.DONE)
    state = first(one_set(SetState.IN_USE, in_case="5"), site_of(done))
    assert (state.released, state.ready) == (at("20:10", -1), at("23:45", -1))
    assert (state.giver, state.from_state) == ("", "dirty, must go through all steps first")


def test_a_set_away_runs_its_route_once_it_is_back() -> None:
    assert first(one_set(SetState.AWAY, back_at=at("06:00"))).ready == at("09:35")
    assert first(one_set(SetState.AWAY)).why_never == "away, not stated until when"


def test_a_loan_set_is_processed_first_and_serves_only_until_it_goes_back() -> None:
    one = one_set(SetState.ON_LOAN, back_at=at("22:00", -1), return_by=at("12:00"))
    state = first(one)
    turnaround = Turnaround(site_of())
    assert state.ready == at("01:35")
    assert ready_for(turnaround, state, use("10:50")) == at("01:35")  # received at 12:00
    assert ready_for(turnaround, state, use("10:51")) is None
    reuse = reuse_from_state(turnaround, one, state, use("07:30"))
    assert reuse is not None
    here = reuse.deadline_of(Act.ARRIVED)
    assert here is not None
    assert here.latest == at("03:25")


@pytest.mark.parametrize("state", [SetState.INCOMPLETE, SetState.UNKNOWN])
def test_an_incomplete_or_unknown_set_is_never_available(state: SetState) -> None:
    found = first(one_set(state))
    assert (found.ready, found.least_ready, bool(found.why_never)) == (None, None, True)
    assert ready_for(Turnaround(site_of()), found, use("07:30")) is None


@pytest.mark.parametrize(
    "one",
    [
        one_set(SetState.AT_STEP, step="polish"),
        one_set(SetState.IN_USE, in_case="77"),
        InstrumentSet(id="X-01", tray="X", state=SetState.DIRTY),
    ],
)
def test_a_state_that_makes_no_sense_is_never_available_and_says_why(one: InstrumentSet) -> None:
    found = first(one)
    assert found.ready is None
    assert found.why_never


def test_a_route_that_never_ends_is_named() -> None:
    short = (WorkPeriod(station="crew", weekday=0, opens=at("06:00").time(), closes=at("06:30").time()),)
    found = first(one_set(SetState.DIRTY), site_of(hours=short))
    assert found.ready is None
    assert found.why_never == "station crew has no working time long enough for step assemble"


def test_a_record_that_ends_before_the_case_sends_the_set_through_its_route() -> None:
    one = one_set(SetState.ON_SHELF, recorded_until=at("08:00"))
    turnaround = Turnaround(site_of())
    state = first(one)
    assert ready_for(turnaround, state, use("08:00")) == NOW
    assert ready_for(turnaround, state, use("08:01")) == at("23:35", -1)
    assert ready_for(turnaround, state, use("08:01"), Pace.LEAST) == at("22:50", -1)
    reuse = reuse_from_state(turnaround, one, state, use("08:01"))
    assert reuse is not None
    assert "its record ends" in reuse.from_state
    assert [one.act for one in reuse.deadlines] == [
        "start wash",
        "start assemble",
        "start steam",
        "start cool",
        "cool done",
        "on the cart",
    ]


def test_remaining_steps_have_their_deadlines_and_one_under_way_only_its_end() -> None:
    one = one_set(SetState.AT_STEP, step="assemble", step_since=at("19:50", -1))
    turnaround = Turnaround(site_of())
    reuse = reuse_from_state(turnaround, one, first(one), use("07:30"))
    assert reuse is not None
    assert [(line.act, line.latest, line.last_resort) for line in reuse.deadlines] == [
        ("assemble done", at("05:05"), at("05:20")),
        ("start steam", at("05:05"), at("05:20")),
        ("start cool", at("06:15"), at("06:30")),
        ("cool done", at("07:00"), at("07:00")),
        ("on the cart", at("07:00"), at("07:00")),
    ]


def two_buildings() -> Site:
    return site_of(
        places={"M": Place(id="M", building="Main")},
        transfers=(Transfer(from_building="Main", to_building="Annex", minutes=25, run="shuttle"),),
        departures=tuple(
            Departure(run="shuttle", weekday=day, leaves=at(wall).time())
            for day in range(7)
            for wall in ("06:00", "10:00")
        ),
    )


def test_a_set_in_another_building_takes_the_shuttle() -> None:
    turnaround = Turnaround(two_buildings())
    one = one_set(SetState.ON_SHELF, place="M")
    state = first(one, two_buildings())
    assert ready_for(turnaround, state, use("07:30", "Annex")) == at("06:25")
    assert ready_for(turnaround, state, use("07:30", "Main")) == NOW
    assert ready_for(turnaround, state, use("07:30", "Elsewhere")) is None
    reuse = reuse_from_state(turnaround, one, state, use("07:30", "Annex"))
    assert reuse is not None
    assert [(line.act, line.latest) for line in reuse.deadlines] == [
        ("transfer to Annex leaves on shuttle", at("06:00")),
        ("on the cart", at("07:00")),
    ]


def test_a_reuse_in_another_building_counts_the_transfer() -> None:
    turnaround = Turnaround(two_buildings())
    one = one_set(SetState.ON_SHELF, place="M")
    giver, waiter = use("04:00", "Main"), use("11:30", "Annex")
    reuse = reuse_after(turnaround, one, giver, waiter)
    assert reuse is not None
    assert (reuse.released, reuse.ready, reuse.slack) == (at("05:10"), at("10:25"), 35)
    latest = {line.act: line.latest for line in reuse.deadlines}
    assert latest["cool done"] == latest["transfer to Annex leaves on shuttle"] == at("10:00")
