"""The chance that a set comes back too late, against a formula and against a simulation event by event."""

from __future__ import annotations

from collections.abc import Generator, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import numpy as np
import pytest
import simpy
from hypothesis import given, settings
from hypothesis import strategies as st

from picklist.department import draw_chances, run_department
from picklist.department.day import ChanceModel, Day, make_day
from picklist.department.draw_day import DayDrawer
from picklist.department.propagate import DrawnDays, Draws, propagate
from picklist.department.ready_table import Minutes, ReadyTables
from picklist.model.department import ChanceReport
from picklist.model.routes import Departure, Route, Station, Step
from picklist.model.schedule import Case
from picklist.model.site import Site
from picklist.model.uses import Assignment, Pace
from picklist.sets.calendar import make_calendar, minute_from
from picklist.sets.timed_route import TimedRoute
from tests.builders import at, case, straight_route
from tests.department.first_case import ends_beyond
from tests.department.ward import ROUTE, STATIONS, give, open_daily, ward
from tests.patience import tries

NIGHT = at("00:00")
PLAIN = straight_route("R", ("wash", 120, 100), ("steam", 70, 60))
PAIR = (case("11", "07:30", 120), case("21", "14:00", 60, "OR 2"))


def report(site: Site, *chains: tuple[str, Sequence[Case]], draws: int = 2000, seed: int = 1) -> ChanceReport:
    assignments, reuses = give(site, NIGHT, *chains)
    cases = sorted({one.number: one for _, chain in chains for one in chain}.values(), key=lambda one: one.number)
    return draw_chances(site, cases, assignments, reuses, NIGHT, draws=draws, seed=seed)


def test_that_two_cases_fail_as_often_as_start_and_minutes_add_up_to() -> None:
    """Set back at 09:40, ready 12:50 (190 min), needed 13:30: it fails when the first case ends over 40 min late."""
    site = ward({"WRIST": 1}, route=PLAIN)
    (reuse,) = report(site, ("WRIST-01", PAIR), draws=40000).reuses
    assert reuse.fails == pytest.approx(ends_beyond(120, 160), abs=4 * (0.25 / 40000) ** 0.5)
    # Hurried it takes 160 min, so that the case may end 70 min late.
    assert reuse.fails_hurried == pytest.approx(ends_beyond(120, 190), abs=4 * (0.25 / 40000) ** 0.5)
    # The mean of what is over 160 min: the tails beyond each whole minute, added up.
    assert reuse.expected_late == pytest.approx(sum(ends_beyond(120, k) for k in range(160, 900)), rel=0.05)
    assert ends_beyond(120, 160 + round(reuse.late_p90)) == pytest.approx(0.1, abs=0.01)
    assert reuse.blame == "11"


def test_that_the_same_seed_gives_the_same_figures_and_another_does_not() -> None:
    site = ward({"WRIST": 1}, route=PLAIN)
    assert repr(report(site, ("WRIST-01", PAIR))) == repr(report(site, ("WRIST-01", PAIR)))
    assert report(site, ("WRIST-01", PAIR)).reuses != report(site, ("WRIST-01", PAIR), seed=2).reuses


def day_of(site: Site, *chains: tuple[str, Sequence[Case]]) -> Day:
    assignments, reuses = give(site, NIGHT, *chains)
    cases = {one.number: one for one in site.cases} | {one.number: one for _, chain in chains for one in chain}
    return make_day(
        ChanceModel(
            site=site,
            cases=tuple(cases.values()),
            assignments=tuple(assignments),
            reuses=tuple(reuses),
            now=NIGHT,
        )
    )


def carried(day: Day, minutes: Minutes) -> DrawnDays:
    """The day when its cases take these minutes and start when they may."""
    return propagate(day, Draws.of_minutes(minutes))


def test_that_blame_goes_to_the_overrun_that_pushed_the_giver() -> None:
    """Case 10 takes 100 min longer and pushes case 11 in its room by 85; 11 itself is 5 min longer."""
    first, giver, waiter = case("10", "07:30", 60), case("11", "09:15", 60), case("21", "14:40", 60, "OR 2")
    site = ward({"WRIST": 1, "KNEE": 1}, route=PLAIN, turnover=30)
    day = day_of(site, ("KNEE-01", (first,)), ("WRIST-01", (giver, waiter)))
    drawn = carried(day, np.array([[160, 160], [65, 65], [60, 60]]))
    # Planned: back 10:25, ready 13:35, needed 14:10. 85 + 5 later: ready 15:05, 55 late.
    assert drawn.late.tolist() == [[55, 55]]
    assert drawn.blame.tolist() == [[0, 0]]


def test_that_a_case_pushed_by_its_room_needs_its_cart_later() -> None:
    """The giver is 60 min longer (20 too many), but the waiter's room is an hour behind as well."""
    giver, ahead, waiter = case("11", "07:30", 120), case("12", "11:00", 150, "OR 2"), case("21", "14:00", 60, "OR 2")
    site = ward({"WRIST": 1, "KNEE": 1}, route=PLAIN)
    day = day_of(site, ("KNEE-01", (ahead,)), ("WRIST-01", (giver, waiter)))
    drawn = carried(day, np.array([[180, 180], [150, 210], [60, 60]]))
    assert drawn.late.tolist() == [[20, 0]]


def test_that_a_case_past_midnight_pushes_the_next_one_in_its_room() -> None:
    """From 22:00 until 01:00, with 30 minutes of turnover: the case at 01:40 has 10 to spare."""
    late, night = case("1", "22:00", 180), replace(case("2", "01:40", 60), start=at("01:40", 1))
    cases = (late, replace(night, day=night.start.date()))
    day = make_day(ChanceModel(site=ward(cases=cases), cases=cases, assignments=(), reuses=(), now=NIGHT))
    assert (day.before, day.spare) == ((-1, 0), (0, 10))
    short = (replace(late, minutes=100), cases[1])  # until 23:40
    day = make_day(ChanceModel(site=ward(cases=short), cases=short, assignments=(), reuses=(), now=NIGHT))
    assert day.before == (-1, -1)


def test_that_what_is_late_on_plan_does_not_push_the_rest_of_the_day() -> None:
    """The second case's set is 80 min late already; its room's next case is not held up by that."""
    pair = (case("11", "07:30", 120), case("21", "12:00", 60, "OR 2"))
    after = (case("21", "12:00", 60, "OR 2"), case("31", "17:00", 60, "OR 3"))
    site = ward({"WRIST": 1, "KNEE": 1}, route=PLAIN)
    day = day_of(site, ("WRIST-01", pair), ("KNEE-01", after))
    on_plan = carried(day, np.array([[120], [60], [60]]))
    assert sorted(on_plan.late.ravel().tolist()) == [0, 80]
    later = carried(day, np.array([[130], [60], [60]]))
    assert max(later.late.ravel().tolist()) == 90


STAIRS = Route(
    id="R",
    steps=(
        Step(name="wash", usual_minutes=50, least_minutes=40, station="washers"),
        Step(name="ride", after=("wash",), usual_minutes=40, least_minutes=40, run="van"),
        Step(name="steam", after=("ride",), usual_minutes=70, least_minutes=60, station="steam"),
        Step(name="cool", after=("steam",), usual_minutes=40, least_minutes=30),
        Step(name="indicator", after=("steam",), usual_minutes=190, least_minutes=190, station="assembly"),
    ),
)


@settings(max_examples=tries(25))
@given(
    st.integers(5, 9),
    st.integers(15, 23),
    st.integers(0, 2880),
    st.booleans(),
    st.sampled_from([Pace.USUAL, Pace.LEAST]),
)
def test_that_the_table_of_a_route_is_its_walk(opens: int, closes: int, minute: int, past: bool, pace: Pace) -> None:
    stations = [replace(one, past_closing=past, start_every=30 if one.id == "steam" else 0) for one in STATIONS]
    site = ward(
        stations=stations,
        hours=open_daily("washers", f"{opens:02d}:00", f"{closes:02d}:30"),
        departures=[
            Departure(run="van", weekday=day, leaves=at(hour).time()) for day in range(7) for hour in ("10:00", "16:00")
        ],
        route=STAIRS,
    )
    calendar = make_calendar(site)
    first = minute_from(NIGHT)
    stairs = ReadyTables(calendar, first, first + 9 * 1440)
    released = NIGHT + timedelta(minutes=minute)
    walk = TimedRoute(STAIRS.steps, calendar, pace).walk_after(released)
    assert walk is not None
    assert stairs.ready(STAIRS.steps, pace, np.array([first + minute])).tolist() == [minute_from(walk.ready)]


def busy_day(seed: int) -> tuple[Site, list[tuple[str, list[Case]]]]:
    """Fourteen cases in four rooms; each set goes from case to case."""
    stream = np.random.default_rng(seed)
    cases = []
    for room in range(4):
        start = at("07:30")
        for turn in range(4 if room < 2 else 3):
            minutes = int(stream.integers(40, 150))
            cases.append(case(f"{room}{turn}", "07:30", minutes, f"OR {room}"))
            cases[-1] = replace(cases[-1], start=start)
            start += timedelta(minutes=minutes + int(stream.integers(10, 60)))
    chains = []
    for number in range(1, 7):
        chosen = sorted(stream.choice(len(cases), size=3, replace=False).tolist())
        chain = sorted((cases[place] for place in chosen), key=lambda one: (one.start, one.number))
        chains.append((f"WRIST-{number:02d}", chain))
    route = straight_route("R", ("wash", int(stream.integers(40, 120)), 40))
    return ward({"WRIST": 6}, cases=cases, route=route), chains


def simulate(
    site: Site, chains: list[tuple[str, list[Case]]], minutes: dict[str, int], starts: dict[str, int]
) -> dict[tuple[str, str], float]:
    """One draw of the day event by event: cases wait for their start, their room and their sets, and start late."""
    day = sorted(site.cases, key=lambda one: (one.start, one.number))
    wash = site.routes["R"].steps[0].usual_minutes
    lead, haul = site.settings.setup_lead, site.settings.haul
    env = simpy.Environment()
    over = {one.number: env.event() for one in day}
    late: dict[tuple[str, str], float] = {}
    room_before = {
        one.number: next((b for b in reversed(day[:place]) if b.room == one.room), None)
        for place, one in enumerate(day)
    }

    def clock(moment: datetime) -> float:
        return (moment - NIGHT).total_seconds() / 60

    def come_back(giver: Case) -> Generator[Any, Any, float]:
        ended = yield over[giver.number]
        yield env.timeout(haul + wash)
        return float(ended) + haul + wash

    def run_case(one: Case) -> Generator[Any, Any, None]:
        planned = clock(one.start)
        may_start = planned
        before = room_before[one.number]
        if before is not None:
            ended = yield over[before.number]
            gap = planned - clock(before.start) - before.minutes
            may_start = max(planned, float(ended) + min(site.settings.turnover, gap))
        begins = may_start + starts[one.number]
        for set_id, chain in chains:
            place = next((n for n, member in enumerate(chain) if member.number == one.number), 0)
            if place:
                giver = chain[place - 1]
                ready = yield env.process(come_back(giver))
                late[set_id, one.number] = max(0.0, ready + lead - may_start)
                on_plan = max(0.0, clock(giver.start) + giver.minutes + haul + wash + lead - planned)
                begins = max(begins, may_start + max(0.0, late[set_id, one.number] - on_plan))
        yield env.timeout(max(0.0, begins + minutes[one.number] - env.now))
        over[one.number].succeed(begins + minutes[one.number])

    for one in day:
        env.process(run_case(one))
    env.run()
    return late


@pytest.mark.parametrize("seed", range(4))
def test_that_the_draws_agree_with_a_simulation_event_by_event(seed: int) -> None:
    site, chains = busy_day(seed)
    day = day_of(site, *chains)
    draws = DayDrawer(site, NIGHT, draws=25, seed=seed).draw(day)
    drawn = propagate(day, draws)
    assert draws.starts.any()
    assert drawn.late.any()
    for draw in range(25):
        numbers = [one.number for one in day.cases]
        minutes = dict(zip(numbers, draws.minutes[:, draw].tolist(), strict=True))
        late = simulate(site, chains, minutes, dict(zip(numbers, draws.starts[:, draw].tolist(), strict=True)))
        for place, link in enumerate(day.links):
            assert drawn.late[place, draw] == late[link.reuse.set_id, link.reuse.waiter]


def test_that_a_queue_in_the_department_makes_a_reuse_fail_more_often() -> None:
    site = ward({"WRIST": 5}, stations=[replace(s, machines=1) if s.id == "washers" else s for s in STATIONS])
    site = replace(site, stations={**site.stations, "washers": replace(site.stations["washers"], per_load=1)})
    chains = [
        (f"WRIST-0{n}", (case(f"1{n}", "07:30", 120, f"OR {n}"), case(f"2{n}", "16:00", 60, f"OR {n}")))
        for n in range(1, 6)
    ]
    assignments, reuses = give(site, NIGHT, *chains)
    cases = [one for _, chain in chains for one in chain]
    run = run_department(site, assignments, NIGHT)
    with_queue = draw_chances(site, cases, assignments, reuses, NIGHT, draws=2000, seed=1, department=run)
    fails = {one.set_id: one.fails for one in with_queue.reuses}
    assert fails["WRIST-01"] < fails["WRIST-05"]
    assert [one.text for one in with_queue.helps][:1] == ["one more at washers (1 now)"]


def test_that_one_more_set_of_the_tray_that_fails_is_what_helps() -> None:
    """Two trays; only the wrist set is tight. A second wrist set saves every late cart."""
    site = ward({"WRIST": 1, "KNEE": 1}, route=PLAIN)
    knee = (case("12", "07:30", 60, "OR 2"), case("22", "23:00", 60, "OR 2"))
    found = report(site, ("WRIST-01", PAIR), ("KNEE-01", knee))
    late = round(sum(one.fails for one in found.reuses) * found.draws)
    best = found.helps[0]
    assert best.text == "one more set of Wrist (WRIST)"
    fails = {one.set_id: one.fails for one in found.reuses}
    assert best.draws_saved == round(fails["WRIST-01"] * found.draws)
    assert best.share_saved == pytest.approx(best.draws_saved / late)
    assert [one.draws_saved for one in found.helps] == sorted((one.draws_saved for one in found.helps), reverse=True)
    sooner = next(one for one in found.helps if one.text == "sets collected from the room 10 min sooner")
    assert 0 < sooner.draws_saved < best.draws_saved


def test_that_a_use_without_a_set_counts_as_late_in_every_draw() -> None:
    site = ward({"WRIST": 1}, route=PLAIN)
    assignments, reuses = give(site, NIGHT, ("WRIST-01", (case("11", "07:30", 60),)))
    other = case("12", "08:00", 60, "OR 2")
    without = Assignment(
        use=replace(assignments[0].use, case="12"), set_id="", tray_given="", stand_in=False, expected=None, slack=None
    )
    found = draw_chances(
        site, [case("11", "07:30", 60), other], [*assignments, without], reuses, NIGHT, draws=500, seed=1
    )
    assert [(one.text, one.draws_saved, one.share_saved) for one in found.helps] == [
        ("one more set of Wrist (WRIST)", 500, 1.0)
    ]


def test_that_a_longer_shift_is_worked_through_the_route() -> None:
    """The washers close at 10:30; a case that ends after 09:30 leaves its set dirty until 06:00."""
    site = ward({"WRIST": 1}, hours=open_daily("washers", "06:00", "10:40"))
    pair = (case("11", "07:30", 90), case("21", "15:00", 60))
    found = report(site, ("WRIST-01", pair))
    text = [one.text for one in found.helps]
    assert "washers to close an hour later" in text
    assert "washers to open an hour earlier" not in text


def test_that_route_and_stations_of_the_ward_are_what_the_examples_say() -> None:
    assert sum(step.usual_minutes for step in ROUTE.steps) == 220
    assert Station(id="x").machines == 1
