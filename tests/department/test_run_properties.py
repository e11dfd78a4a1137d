"""Whatever the hours, starts and states: the run keeps to the calendar, and other sets never make a set faster."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import time, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from picklist.department import queue_conflicts, run_department
from picklist.model.department import DepartmentRun
from picklist.model.sets import SetState
from picklist.model.site import Site
from picklist.model.uses import Assignment, Reuse
from picklist.sets.calendar import make_calendar
from tests.builders import at, case
from tests.department.ward import STATIONS, give, open_daily, ward
from tests.patience import tries

NOW = at("06:00")
STATES = (SetState.ON_SHELF, SetState.DIRTY, SetState.AT_STEP)


@st.composite
def days(draw: st.DrawFn) -> tuple[Site, list[Assignment], list[Reuse]]:
    """Up to eight sets, each for one to three cases; washers and crew with hours, washers with fixed starts."""
    count = draw(st.integers(1, 8))
    stations = [
        replace(
            one,
            machines=draw(st.integers(1, 3)),
            start_every=draw(st.sampled_from([0, 30])) if one.id == "washers" else 0,
            past_closing=one.id == "washers",
            longest_wait=draw(st.sampled_from([0, 20])),
        )
        for one in STATIONS
    ]
    hours = (
        *open_daily("washers", draw(st.sampled_from(["06:00", "08:30"])), "21:00"),
        *open_daily("assembly", "07:00", "12:00"),
        *open_daily("assembly", "12:30", draw(st.sampled_from(["20:00", "23:30"]))),
    )
    site = ward({"WRIST": count}, stations=stations, hours=hours)
    sets = {
        name: replace(one, state=draw(st.sampled_from(STATES)), step="wash", step_since=at("05:45"))
        for name, one in site.sets.items()
    }
    site = replace(site, sets=sets)
    chains = []
    for n, name in enumerate(sorted(sets)):
        starts = sorted(draw(st.sets(st.integers(0, 6), min_size=1, max_size=3)))
        cases = [
            replace(case(f"{n}{s}", "08:00", 90, f"OR {n}"), start=at("08:00") + timedelta(hours=5 * s)) for s in starts
        ]
        chains.append((name, cases))
    assignments, reuses = give(site, NOW, *chains)
    return site, assignments, reuses


def within_hours(site: Site, run: DepartmentRun) -> None:
    calendar = make_calendar(site)
    for load in run.loads:
        if load.station in {period.station for period in site.hours} and load.begins >= NOW:
            windows = calendar.windows(load.station, load.begins - timedelta(days=1), load.ends + timedelta(days=1))
            assert any(opens <= load.begins < closes for opens, closes in windows)
            assert any(opens <= load.ends <= closes for opens, closes in windows)
        if site.stations[load.station].start_every and load.begins >= NOW:
            assert load.begins.minute in (0, 30)


@settings(max_examples=tries(40))
@given(days())
def test_that_the_run_keeps_to_hours_starts_and_machines(day: tuple[Site, list[Assignment], list[Reuse]]) -> None:
    site, assignments, reuses = day
    run = run_department(site, assignments, NOW)
    within_hours(site, run)
    for load in run.loads:
        same = [one for one in run.loads if one.station == load.station and one.begins <= load.begins < one.ends]
        assert len(load.sets) <= site.stations[load.station].per_load
        if load.begins >= NOW:
            assert len(same) <= site.stations[load.station].machines
    for one in run.runs:
        assert one.ready >= one.alone_ready
        assert one.ready == max(step.ends for step in one.steps)
        assert all(step.waited >= step.queued >= 0 for step in one.steps)
    # Every use sends its set down once; what is dirty or in process goes before.
    ways = Counter(one.set_id for one in run.runs)
    dirty = Counter(name for name, one in site.sets.items() if one.state is not SetState.ON_SHELF)
    assert ways == Counter(given.set_id for given in assignments) + dirty
    for conflict in queue_conflicts(run, reuses, assignments, site.settings.site_clock):
        assert conflict.blame in site.stations
        assert conflict.minutes > 0


@settings(max_examples=tries(25))
@given(days())
def test_that_with_machines_for_all_and_no_holding_nobody_waits_for_another_set(
    day: tuple[Site, list[Assignment], list[Reuse]],
) -> None:
    site, assignments, reuses = day
    plenty = {name: replace(one, machines=50, longest_wait=0) for name, one in site.stations.items()}
    site = replace(site, stations=plenty)
    run = run_department(site, assignments, NOW)
    assert all(one.ready == one.alone_ready for one in run.runs)
    assert queue_conflicts(run, reuses, assignments, site.settings.site_clock) == ()


def test_that_the_days_of_these_checks_have_a_break_and_a_closing() -> None:
    windows = make_calendar(ward(hours=open_daily("washers", "06:00", "21:00"))).windows("washers", NOW, at("07:00"))
    assert [closes.time() for _, closes in windows] == [time(21, 0)]
