"""Routes walked by the program and minute by minute by a second, simpler walker come to the same minute."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import date, datetime, time, timedelta

import numpy as np
import pytest

from picklist.model.routes import Departure, Holiday, Station, Step, WorkPeriod
from picklist.model.site import Site
from picklist.model.uses import Pace
from picklist.sets.calendar import make_calendar
from picklist.sets.timed_route import TimedRoute
from picklist.sets.walk import remaining
from picklist.settings import Settings
from tests.patience import tries
from tests.sets.walker import AFTER, BEFORE, DAY, NEVER, Walker

# Nights of clock changes, one of them by half an hour, one at midnight, and a zone without any.
NIGHTS = [
    ("Europe/Vienna", date(2027, 3, 28)),
    ("Europe/Vienna", date(2026, 10, 25)),
    ("America/Chicago", date(2027, 3, 14)),
    ("America/Chicago", date(2026, 11, 1)),
    ("Australia/Lord_Howe", date(2026, 10, 4)),
    ("Australia/Lord_Howe", date(2027, 4, 4)),
    ("America/Santiago", date(2026, 9, 6)),
    ("America/Santiago", date(2026, 4, 5)),
    ("Asia/Kolkata", date(2026, 11, 26)),
]
WALLS = [time(0), time(1), time(1, 45), time(2), time(2, 15), time(2, 30), time(3), time(6), time(12), time(23, 30)]
STATIONS = ["wash", "bench", "steam"]


def random_wall(draw: random.Random) -> time:
    return draw.choice(WALLS) if draw.random() < 0.5 else time(draw.randrange(tries(24, 8)), draw.randrange(0, 60, 5))


def random_station(draw: random.Random, name: str) -> Station:
    fixed = draw.choice(["any", "any", "cadence", "times"])
    return Station(
        id=name,
        start_every=draw.choice([15, 20, 30, 45, 60, 90]) if fixed == "cadence" else 0,
        start_times=tuple(random_wall(draw) for _ in range(draw.randrange(1, 4))) if fixed == "times" else (),
        past_closing=draw.random() < 0.5,
    )


def random_hours(draw: random.Random, name: str) -> list[WorkPeriod]:
    style = draw.choice(["always", "weekdays", "any days", "two shifts"])
    if style == "always":
        return []
    days = range(5) if style == "weekdays" else sorted(draw.sample(range(7), draw.randrange(1, 8)))
    shifts = [(random_wall(draw), random_wall(draw)) for _ in range(2 if style == "two shifts" else 1)]
    return [
        WorkPeriod(station=name, weekday=day, opens=opens, closes=closes) for day in days for opens, closes in shifts
    ]


def random_site(draw: random.Random, zone: str, night: date) -> Site:
    runs = [Departure(run="van", weekday=draw.randrange(7), leaves=random_wall(draw)) for _ in range(6)]
    off = [
        Holiday(day=night + timedelta(days=draw.randrange(-3, 4)), station=draw.choice(["", "wash", "bench", "van"]))
        for _ in range(draw.randrange(3))
    ]
    return Site(
        settings=Settings(site="Example Hospital", time_zone=zone),
        stations={name: random_station(draw, name) for name in STATIONS if draw.random() < 0.9},
        hours=tuple(period for name in STATIONS for period in random_hours(draw, name)),
        departures=tuple(runs),
        holidays=tuple(off),
    )


def random_steps(draw: random.Random) -> tuple[Step, ...]:
    steps: list[Step] = []
    for number in range(draw.randrange(1, 6)):
        names = [step.name for step in steps]
        usual = draw.choice([0, 1, 5, 30, 45, 60, 90, 240])
        steps.append(
            Step(
                name=f"step {number}",
                after=tuple(draw.sample(names, min(len(names), draw.choice([0, 1, 1, 1, 2])))),
                usual_minutes=usual,
                least_minutes=draw.randrange(0, usual + 1),
                station=draw.choice(["", *STATIONS]),
                run="van" if draw.random() < 0.2 else "",
            )
        )
    return tuple(steps)


def moments(draw: random.Random, night: date) -> list[datetime]:
    """Some minutes of the days around the night, most of them in the night itself."""
    midnight = datetime.fromisoformat(f"{night}T00:00+00:00")
    spread = [draw.randrange(-4 * DAY, 4 * DAY) for _ in range(8)] + [
        draw.randrange(-DAY, DAY) for _ in range(tries(12, 4))
    ]
    return [midnight + timedelta(minutes=minutes) for minutes in spread]


@pytest.mark.parametrize("pace", list(Pace))
@pytest.mark.parametrize("seed", range(tries(24, 8)))
@pytest.mark.parametrize(("zone", "night"), NIGHTS)
def test_forwards_and_backwards_come_to_the_minute_of_the_walker(zone: str, night: date, seed: int, pace: Pace) -> None:
    draw = random.Random(f"{zone}{night}{seed}")
    site, steps = random_site(draw, zone, night), random_steps(draw)
    timed_route, walker = TimedRoute(steps, make_calendar(site), pace), Walker(site, night)
    ready = walker.ready_lines(steps, pace)
    assert bool(np.all(ready[:-1] <= ready[1:]))
    for moment in moments(draw, night):
        at = walker.minute(moment)
        found = timed_route.ready(moment)
        if ready[at] < NEVER:
            assert found == walker.instant(int(ready[at]))
        else:
            assert found is None or walker.minute(found) >= (BEFORE + AFTER - 1) * DAY
        latest = timed_route.release(moment)
        in_time = np.flatnonzero(ready <= at)
        if len(in_time):
            assert latest == walker.instant(int(in_time[-1]))
        else:
            assert latest is None or walker.minute(latest) < 0


@pytest.mark.parametrize("seed", range(tries(12, 4)))
@pytest.mark.parametrize(("zone", "night"), NIGHTS)
def test_a_set_at_a_step_is_ready_at_the_minute_of_the_walker(zone: str, night: date, seed: int) -> None:
    draw = random.Random(f"at step {zone}{night}{seed}")
    site, steps = random_site(draw, zone, night), random_steps(draw)
    calendar, walker = make_calendar(site), Walker(site, night)
    for now in moments(draw, night)[-6:]:
        at_step = draw.choice(steps).name
        since = now - timedelta(minutes=draw.choice([0, 1, 20, 60, 200, 900]))
        left = remaining(steps, at_step, since, now, calendar)
        assert left is not None
        found = TimedRoute(left.steps, calendar, Pace.USUAL).ready(now)
        ready = walker.ready_from_step(steps, at_step, walker.minute(since), walker.minute(now))
        if ready < NEVER:
            assert found == walker.instant(ready)
        else:
            assert found is None or walker.minute(found) >= (BEFORE + AFTER - 1) * DAY


def test_that_the_walker_knows_a_shift_over_midnight_in_the_night_of_the_change() -> None:
    """22:00 to 04:00 is five hours in a night that skips one, seven in a night that repeats one."""
    for night, worked in ((date(2027, 3, 28), 300), (date(2026, 10, 25), 420), (date(2026, 11, 8), 360)):
        eve = night - timedelta(days=1)
        shift = WorkPeriod(station="wash", weekday=eve.weekday(), opens=time(22), closes=time(4))
        site = Site(settings=Settings(site="Example Hospital", time_zone="Europe/Vienna"), hours=(shift,))
        open_minutes = Walker(site, night).open_minutes("wash")
        evening = Walker(site, night).minute(datetime.fromisoformat(f"{eve}T12:00+00:00"))
        assert int(open_minutes[evening : evening + DAY].sum()) == worked


def test_that_a_cycle_past_closing_waits_for_the_next_opening() -> None:
    shift = tuple(WorkPeriod(station="wash", weekday=day, opens=time(6), closes=time(20)) for day in range(7))
    wash = Step(name="wash", usual_minutes=90, least_minutes=90, station="wash")
    for stays, out in ((True, "2026-11-27T06:00+00:00"), (False, "2026-11-27T07:30+00:00")):
        site = Site(
            settings=Settings(site="Example Hospital", time_zone="UTC"),
            stations={"wash": Station(id="wash", past_closing=stays)},
            hours=shift,
        )
        walker = Walker(site, date(2026, 11, 26))
        late = walker.minute(datetime.fromisoformat("2026-11-26T19:30+00:00"))
        assert walker.instant(int(walker.ready_lines((wash,), Pace.USUAL)[late])) == datetime.fromisoformat(out)
        other = replace(site, stations={})
        assert Walker(other, date(2026, 11, 26)).ready_lines((wash,), Pace.USUAL)[late] == walker.minute(
            datetime.fromisoformat("2026-11-27T07:30+00:00")
        )
