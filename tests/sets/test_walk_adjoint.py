"""Forwards and backwards agree to the minute, over hours, runs, midnights and both clock changes."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from picklist.model.routes import Departure, Holiday, Station, Step, WorkPeriod
from picklist.model.site import Site
from picklist.model.uses import Pace
from picklist.sets.calendar import make_calendar
from picklist.sets.timed_route import TimedRoute
from picklist.settings import Settings
from tests.patience import tries

# Each zone with days around a change of its clock (one zone changes by half an hour).
CHANGES = [
    ("America/Chicago", date(2026, 11, 1)),
    ("America/Chicago", date(2027, 3, 14)),
    ("Australia/Lord_Howe", date(2027, 4, 4)),
    ("Australia/Lord_Howe", date(2026, 10, 4)),
    ("Europe/Berlin", date(2026, 10, 25)),
    ("Asia/Kathmandu", date(2026, 11, 26)),
]
QUARTERS = st.integers(0, 95).map(lambda quarter: time(quarter // 4, quarter % 4 * 15))
WALLS = st.one_of(QUARTERS, st.sampled_from([time(0), time(1, 30), time(2), time(2, 30), time(23, 59)]))
MINUTES = st.one_of(st.integers(0, 200), st.sampled_from([0, 1, 480, 1500]))


@st.composite
def stations(draw: st.DrawFn) -> tuple[Station, tuple[WorkPeriod, ...]]:
    name = draw(st.sampled_from(["wash", "steam", "crew"]))
    fixed = draw(st.sampled_from(["any", "cadence", "times"]))
    station = Station(
        id=name,
        start_every=draw(st.sampled_from([7, 20, 30, 60, 90])) if fixed == "cadence" else 0,
        start_times=tuple(draw(st.lists(WALLS, min_size=1, max_size=4))) if fixed == "times" else (),
        past_closing=draw(st.booleans()),
    )
    days = draw(st.lists(st.integers(0, 6), max_size=7))
    return station, tuple(WorkPeriod(station=name, weekday=day, opens=draw(WALLS), closes=draw(WALLS)) for day in days)


@st.composite
def networks(draw: st.DrawFn) -> tuple[Step, ...]:
    made: list[Step] = []
    for number in range(draw(st.integers(1, 6))):
        names = [step.name for step in made]
        after = draw(st.lists(st.sampled_from(names), unique=True, max_size=3)) if names else []
        usual = draw(MINUTES)
        made.append(
            Step(
                name=f"step {number}",
                after=tuple(after),
                usual_minutes=usual,
                least_minutes=draw(st.integers(0, usual)),
                station=draw(st.sampled_from(["", "", "wash", "steam", "crew", "not listed"])),
                run=draw(st.sampled_from(["", "", "", "van"])),
            )
        )
    return tuple(made)


@st.composite
def sites(draw: st.DrawFn) -> tuple[Site, datetime]:
    zone, change = draw(st.sampled_from(CHANGES))
    found = {station.id: (station, hours) for station, hours in draw(st.lists(stations(), max_size=3))}
    runs = draw(st.lists(st.tuples(st.integers(0, 6), WALLS), min_size=1, max_size=8))
    off = draw(st.lists(st.integers(-3, 3), max_size=2))
    closed = draw(st.sampled_from(["", "wash", "van"]))
    site = Site(
        settings=Settings(site="Example Hospital", time_zone=zone),
        stations={name: station for name, (station, _) in found.items()},
        hours=tuple(period for _, hours in found.values() for period in hours),
        departures=tuple(Departure(run="van", weekday=day, leaves=wall) for day, wall in runs),
        holidays=tuple(Holiday(day=change + timedelta(days=days), station=closed) for days in off),
    )
    return site, datetime(change.year, change.month, change.day, tzinfo=UTC)


INSTANTS = st.integers(-3 * 1440, 3 * 1440)
MOMENTS = st.one_of(INSTANTS, st.floats(-4000, 4000)).map(lambda minutes: timedelta(minutes=minutes))


@given(sites(), networks(), st.sampled_from(Pace), st.lists(MOMENTS, min_size=2, max_size=4), MOMENTS)
@settings(max_examples=tries(400))
def test_released_in_time_exactly_when_ready_in_time(
    place: tuple[Site, datetime], steps: tuple[Step, ...], pace: Pace, offsets: list[timedelta], later: timedelta
) -> None:
    site, around = place
    timed_route = TimedRoute(steps, make_calendar(site), pace)
    releases = [around + offset for offset in sorted(offsets)]
    readies = [timed_route.ready(released) for released in releases]
    needs = [around + later, *(ready for ready in readies if ready)]
    needs += [need - timedelta(minutes=1) for need in needs]
    for needed in needs:
        latest = timed_route.release(needed)
        for released, ready in zip(releases, readies, strict=True):
            in_time = ready is not None and ready <= needed
            assert in_time == (latest is not None and released <= latest)


@given(sites(), networks(), st.sampled_from(Pace), INSTANTS, st.integers(0, 2000))
@settings(max_examples=tries(200))
def test_later_is_never_sooner_in_either_direction(
    place: tuple[Site, datetime], steps: tuple[Step, ...], pace: Pace, offset: int, later: int
) -> None:
    site, around = place
    timed_route = TimedRoute(steps, make_calendar(site), pace)
    first, second = around + timedelta(minutes=offset), around + timedelta(minutes=offset + later)
    ready, ready_later = timed_route.ready(first), timed_route.ready(second)
    assert ready is None or ready_later is None or first <= ready <= ready_later
    release, release_later = timed_route.release(first), timed_route.release(second)
    assert release is None or release_later is None or release <= release_later <= second


@given(sites(), networks(), INSTANTS)
@settings(max_examples=tries(200))
def test_the_latest_release_is_itself_in_time_and_a_minute_more_is_not(
    place: tuple[Site, datetime], steps: tuple[Step, ...], offset: int
) -> None:
    site, around = place
    timed_route = TimedRoute(steps, make_calendar(site), Pace.USUAL)
    needed = around + timedelta(minutes=offset)
    latest = timed_route.release(needed)
    if latest is None:
        return
    ready, after = timed_route.ready(latest), timed_route.ready(latest + timedelta(minutes=1))
    assert ready is not None
    assert ready <= needed
    assert after is None or after > needed


@given(sites(), networks(), INSTANTS)
@settings(max_examples=tries(150))
def test_each_step_waits_for_all_that_it_stands_after(
    place: tuple[Site, datetime], steps: tuple[Step, ...], offset: int
) -> None:
    site, around = place
    timed_route = TimedRoute(steps, make_calendar(site), Pace.USUAL)
    for walk in (timed_route.walk_after(around + timedelta(minutes=offset)), timed_route.walk_before(around)):
        if walk is None:
            continue
        times = {time.step: time for time in walk.steps}
        for step in steps:
            assert times[step.name].begins >= walk.released
            assert times[step.name].ends <= walk.ready
            assert all(times[name].ends <= times[step.name].begins for name in step.after)


@pytest.mark.parametrize(("zone", "change"), CHANGES[:5])
def test_that_the_zones_do_change_their_clocks_that_day(zone: str, change: date) -> None:
    clock = Settings(site="Example Hospital", time_zone=zone).site_clock
    day = clock.at_or_after(change + timedelta(days=1), time(0)) - clock.at_or_after(change, time(0))
    assert day != timedelta(days=1)
