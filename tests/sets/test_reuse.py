"""Deadlines and break-even of a reuse hold to the minute, whatever the hours and runs."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from picklist.model.routes import Departure, Route, Station, Step, WorkPeriod
from picklist.model.site import Site
from picklist.model.uses import Act, Pace, Reuse, Use
from picklist.sets.calendar import make_calendar
from picklist.sets.reuse import reuse_after
from picklist.sets.timed_route import TimedRoute
from picklist.sets.turnaround import Turnaround
from picklist.sets.walk import remaining
from tests.builders import at, copies, tray, utc_settings
from tests.patience import tries

OPENINGS = st.integers(0, 23).map(lambda hour: at(f"{hour:02d}:00").time())
STATIONS = {
    "washers": Station(id="washers", start_every=30),
    "sterilizers": Station(id="sterilizers", past_closing=True),
    "crew": Station(id="crew"),
}


@st.composite
def hours(draw: st.DrawFn) -> tuple[WorkPeriod, ...]:
    made = []
    for station in ("sterilizers", "crew"):
        opens, closes = draw(OPENINGS), draw(OPENINGS)
        made += [WorkPeriod(station=station, weekday=day, opens=opens, closes=closes) for day in range(7)]
    return tuple(made)


@st.composite
def chains(draw: st.DrawFn) -> tuple[Step, ...]:
    made: list[Step] = []
    for number in range(draw(st.integers(1, 5))):
        usual = draw(st.integers(0, 90))
        made.append(
            Step(
                name=f"step {number}",
                after=(made[-1].name,) if made else (),
                usual_minutes=usual,
                least_minutes=draw(st.integers(0, usual)),
                station=draw(st.sampled_from(["", "washers", "sterilizers", "crew"])),
                run=draw(st.sampled_from(["", "", "", "van"])),
            )
        )
    beside = draw(st.integers(0, 90))
    if draw(st.booleans()):
        made.append(Step(name="beside", after=(made[0].name,), usual_minutes=beside, least_minutes=beside))
    return tuple(made)


def site_of(steps: tuple[Step, ...], periods: tuple[WorkPeriod, ...]) -> Site:
    return Site(
        settings=utc_settings(),
        routes={"R": Route(id="R", steps=steps)},
        trays={"T": tray("T")},
        sets=copies("T", 1),
        stations=STATIONS,
        hours=periods,
        departures=tuple(
            Departure(run="van", weekday=day, leaves=at(wall).time())
            for day in range(7)
            for wall in ("05:00", "13:00", "19:30")
        ),
    )


def use(number: str, start: int, minutes: int) -> Use:
    starts = at("00:00") + timedelta(minutes=start)
    ends = starts + timedelta(minutes=minutes)
    return Use(
        case=number,
        tray="T",
        copy=1,
        needed=starts - timedelta(minutes=30),
        starts=starts,
        ends=ends,
        leaves_room=ends,
        received=ends + timedelta(minutes=10),
    )


def overrun(one: Use, minutes: int) -> Use:
    late = timedelta(minutes=minutes)
    return replace(one, ends=one.ends + late, leaves_room=one.leaves_room + late, received=one.received + late)


def reuse_of(site: Site, giver: Use, waiter: Use) -> Reuse | None:
    return reuse_after(Turnaround(site), site.sets["T-01"], giver, waiter)


@given(chains(), hours(), st.integers(0, 1400), st.integers(30, 300), st.integers(0, 2000))
@settings(max_examples=tries(200))
def test_a_giver_may_overrun_by_its_break_even_and_not_a_minute_more(
    steps: tuple[Step, ...], periods: tuple[WorkPeriod, ...], start: int, minutes: int, gap: int
) -> None:
    site = site_of(steps, periods)
    giver, waiter = use("1", start, minutes), use("2", start + minutes + gap, 60)
    reuse = reuse_of(site, giver, waiter)
    if reuse is None or reuse.break_even is None:
        return
    assert (reuse.slack >= 0) == (reuse.break_even >= 0)
    just, over = (reuse_of(site, overrun(giver, reuse.break_even + more), waiter) for more in (0, 1))
    assert just is not None
    assert just.slack >= 0
    assert over is None or over.slack < 0
    out, into = reuse.deadline_of(Act.OUT_OF_ROOM), reuse.deadline_of(Act.INTO_DECONTAMINATION)
    assert out is not None
    assert into is not None
    assert out.latest == giver.leaves_room + timedelta(minutes=reuse.break_even)
    assert into.latest == out.latest + timedelta(minutes=10)


@given(chains(), hours(), st.integers(0, 1400), st.integers(0, 2000))
@settings(max_examples=tries(200))
def test_deadlines_stand_in_order_and_the_last_resort_is_never_sooner(
    steps: tuple[Step, ...], periods: tuple[WorkPeriod, ...], start: int, gap: int
) -> None:
    reuse = reuse_of(site_of(steps, periods), use("1", start, 60), use("2", start + 60 + gap, 60))
    if reuse is None:
        return
    latest = [line.latest for line in reuse.deadlines]
    assert latest == sorted(latest)
    assert all(line.latest <= line.last_resort <= reuse.needed for line in reuse.deadlines)
    assert reuse.least_slack >= reuse.slack
    if reuse.slack >= 0:
        early = {time.step: time.begins for time in reuse.walk.steps}
        acts = {line.act: line.latest for line in reuse.deadlines}
        words = {step.name: f"{step.name} leaves on {step.run}" if step.run else f"start {step.name}" for step in steps}
        assert all(early[name] <= acts[word] for name, word in words.items())


@given(chains(), hours(), st.integers(0, 1400), st.data())
@settings(max_examples=tries(200))
def test_a_set_looked_at_half_way_is_ready_when_it_was_said_to_be(
    steps: tuple[Step, ...], periods: tuple[WorkPeriod, ...], start: int, data: st.DataObject
) -> None:
    chain = tuple(step for step in steps if step.name != "beside")
    calendar = make_calendar(site_of(chain, periods))
    walk = TimedRoute(chain, calendar, Pace.USUAL).walk_after(at("00:00") + timedelta(minutes=start))
    if walk is None:
        return
    time = data.draw(st.sampled_from(walk.steps))
    spent = data.draw(st.integers(0, int((time.ends - time.begins).total_seconds() // 60)))
    now = time.begins + timedelta(minutes=spent)
    left = remaining(chain, time.step, time.begins, now, calendar)
    assert left is not None
    assert left.under_way == (time.step,)
    assert TimedRoute(left.steps, calendar, Pace.USUAL).ready(now) == walk.ready
