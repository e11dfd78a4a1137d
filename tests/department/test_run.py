"""A day in the department: what alone looks fine is late when the washer is busy, and the run says why."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, time

import pytest

from picklist.clock import SiteClock
from picklist.department import add_relief, queue_conflicts, run_department
from picklist.model.conflicts import ConflictKind
from picklist.model.department import DepartmentRun, SetRun, StepRun
from picklist.model.known import conflict_key
from picklist.model.routes import Departure, Route, Station, Step, StepOnlyFor
from picklist.model.schedule import CaseStatus, Side
from picklist.model.sets import SetState
from picklist.model.site import Site
from picklist.model.uses import Assignment, Reuse
from picklist.wording.say_department import explain_set, waits_for
from tests.builders import at, case
from tests.department.ward import ROUTE, STATIONS, give, open_daily, station, ward

NIGHT = at("00:00")


def said(step: StepRun) -> str:
    """What a set waits for before a step, where it is one thing."""
    (wait,) = step.waits
    assert wait.minutes == step.waited
    return waits_for(wait, SiteClock("UTC"))


def five_sets(machines: int) -> tuple[Site, list[Assignment], list[Reuse]]:
    """Five sets come down at 09:40 and are all wanted for 14:00; washers take one set a load."""
    site = station(ward({"WRIST": 5}), "washers", machines=machines, per_load=1)
    chains = []
    for n in range(1, 6):
        pair = (case(f"1{n}", "07:30", 120, f"OR {n}"), case(f"2{n}", "14:00", 60, f"OR {n}"))
        chains.append((f"WRIST-0{n}", pair))
    assignments, reuses = give(site, NIGHT, *chains)
    return site, assignments, reuses


def way(run: DepartmentRun, set_id: str, for_case: str) -> SetRun:
    (found,) = [one for one in run.runs if one.set_id == set_id and one.for_case == for_case]
    return found


def test_that_one_washer_makes_the_last_three_of_five_sets_late() -> None:
    """Our own example. Wash ends 10:40, 11:20 ... 13:20; 20 + 60 + 40 min later each set is ready."""
    site, assignments, reuses = five_sets(1)
    assert [reuse.slack for reuse in reuses] == [10] * 5
    run = run_department(site, assignments, NIGHT)
    ready = [way(run, f"WRIST-0{n}", f"2{n}").ready for n in range(1, 6)]
    assert ready == [at("12:40"), at("13:20"), at("14:00"), at("14:40"), at("15:20")]
    assert [way(run, f"WRIST-0{n}", f"2{n}").late for n in range(1, 6)] == [0, 0, 30, 70, 110]
    assert run.greatest_lateness == 110


def test_that_a_conflict_of_the_load_names_the_washers() -> None:
    site, assignments, reuses = five_sets(1)
    run = run_department(site, assignments, NIGHT)
    found = queue_conflicts(run, reuses, assignments, site.settings.site_clock)
    assert [(one.set_id, one.waiter, one.minutes) for one in found] == [
        ("WRIST-03", "23", 30),
        ("WRIST-04", "24", 70),
        ("WRIST-05", "25", 110),
    ]
    assert {one.kind for one in found} == {ConflictKind.QUEUE}
    assert {one.blame for one in found} == {"washers"}


def test_that_a_conflict_of_the_load_on_a_set_on_hold_says_that_it_hangs_on_opening_it() -> None:
    """Put back unopened, WRIST-03 would be free long before 13:30; only opened does it go to the washers at all."""
    site, assignments, reuses = five_sets(1)
    free = at("09:45")
    held = [
        replace(one, if_unopened_ready=free, if_unopened_slack=225) if one.set_id == "WRIST-03" else one
        for one in reuses
    ]
    run = run_department(site, assignments, NIGHT)
    third, fourth, _ = queue_conflicts(run, held, assignments, site.settings.site_clock)
    assert third.statement.startswith("WRIST-03 (on hold in case 13), if case 13 opens it, has 10 min to spare")
    assert fourth.statement.startswith("WRIST-04 (after case 14) has 10 min to spare")


def test_that_a_conflict_of_the_load_says_what_one_more_washer_would_do() -> None:
    site, assignments, reuses = five_sets(1)
    run = run_department(site, assignments, NIGHT)
    found = add_relief(
        queue_conflicts(run, reuses, assignments, site.settings.site_clock), site, assignments, NIGHT, run
    )
    assert [one.missing for one in found] == [
        "lost in queues: 1 h 20 min at washers; one more at washers would bring it in time",
        "lost in queues: 2 h 00 min at washers; one more at washers would bring it in time",
        "lost in queues: 20 min at sinks and 2 h 20 min at washers; one more at washers would leave it 30 min late",
    ]


def test_that_a_second_washer_leaves_one_late_and_a_third_none() -> None:
    late = []
    for machines in (1, 2, 3):
        site, assignments, reuses = five_sets(machines)
        run = run_department(site, assignments, NIGHT)
        late.append(len(queue_conflicts(run, reuses, assignments, site.settings.site_clock)))
    assert late == [3, 1, 0]


def test_that_a_set_ready_alone_to_the_minute_is_late_by_the_load() -> None:
    """Both come at 09:40 and are wanted at 12:40, when one alone is ready; the second is washed 40 min later."""
    site = station(ward({"WRIST": 2}), "washers", machines=1, per_load=1)
    pairs = [(case(f"1{n}", "07:30", 120, f"OR {n}"), case(f"2{n}", "13:10", 60, f"OR {n}")) for n in (1, 2)]
    assignments, reuses = give(site, NIGHT, ("WRIST-01", pairs[0]), ("WRIST-02", pairs[1]))
    run = run_department(site, assignments, NIGHT)
    assert way(run, "WRIST-02", "22").alone_ready == at("12:40")
    found = queue_conflicts(run, reuses, assignments, site.settings.site_clock)
    assert [(one.set_id, one.minutes) for one in found] == [("WRIST-02", 40)]


def test_that_two_sets_of_a_tray_late_for_one_case_are_two_matters_to_decide() -> None:
    """Cases 11 to 13 give three sets at 09:40 to a single washer; case 22 wants the two that it takes last."""
    site = station(ward({"WRIST": 3}), "washers", machines=1, per_load=1)
    givers = [case(f"1{n}", "07:30", 120, f"OR {n}") for n in (1, 2, 3)]
    early, late = case("21", "13:10", 60, "OR 1"), case("22", "13:10", 60, "OR 2")
    assignments, reuses = give(
        site, NIGHT, *((f"WRIST-0{n}", (giver, early if n == 1 else late)) for n, giver in enumerate(givers, 1))
    )
    second = replace(assignments[-1].use, copy=2, side=Side.RIGHT)
    assignments[-1], reuses[-1] = replace(assignments[-1], use=second), replace(reuses[-1], waiter_use=second.key)
    run = run_department(site, assignments, NIGHT)
    found = queue_conflicts(run, reuses, assignments, site.settings.site_clock)
    assert [(one.set_id, one.wanted, one.side) for one in found if one.waiter == "22"] == [
        ("WRIST-02", ("WRIST", 1), None),
        ("WRIST-03", ("WRIST", 2), Side.RIGHT),
    ]
    assert len({conflict_key(one) for one in found}) == len(found)


def test_that_a_set_that_is_short_alone_is_not_blamed_on_the_load() -> None:
    site, _, _ = five_sets(1)
    pair = (case("11", "07:30", 120), case("21", "12:00", 60))
    assignments, reuses = give(site, NIGHT, ("WRIST-01", pair))
    run = run_department(site, assignments, NIGHT)
    assert run.greatest_lateness > 0
    assert queue_conflicts(run, reuses, assignments, site.settings.site_clock) == ()


def test_that_a_set_without_hope_does_not_push_aside_those_that_can_be_in_time() -> None:
    """All come at 09:40. WRIST-01 is wanted at 10:00, which nothing can do; WRIST-02 must have the washer first."""
    site = station(ward({"WRIST": 3}), "washers", machines=1, per_load=1)
    chains = [
        ("WRIST-01", (case("11", "07:30", 120, "OR 1"), case("21", "10:30", 60, "OR 4"))),
        ("WRIST-02", (case("12", "07:30", 120, "OR 2"), case("22", "13:10", 60, "OR 2"))),
        ("WRIST-03", (case("13", "07:30", 120, "OR 3"), case("23", "13:50", 60, "OR 3"))),
    ]
    assignments, _ = give(site, NIGHT, *chains)
    run = run_department(site, assignments, NIGHT)
    assert [way(run, f"WRIST-0{n}", f"2{n}").ready for n in (1, 2, 3)] == [at("13:20"), at("12:40"), at("14:00")]
    assert run.greatest_lateness == 200


def test_that_a_set_can_say_what_it_waited_for() -> None:
    site, assignments, reuses = five_sets(1)
    run = run_department(site, assignments, NIGHT)
    text = explain_set(run, reuses, "WRIST-02", site.settings.site_clock)
    assert text[0] == (
        "WRIST-02 from case 12, Thu 26 Nov 09:40: ready Thu 26 Nov 13:20 at usual pace, for case 22 by Thu 26 Nov "
        "13:30, 10 min to spare; Thu 26 Nov 13:20 in today's queue, 40 min of that because of other sets"
    )
    assert text[2] == "wash at washers 1: 10:40 to 11:20, waited 40 min for washers 1"
    assert explain_set(run, reuses, "no such set", site.settings.site_clock) == ()


def test_that_waiting_for_the_morning_is_not_blamed_on_other_sets() -> None:
    site = ward({"WRIST": 1}, hours=open_daily("washers", "06:00", "10:00"))
    pair = (case("11", "07:30", 120), replace(case("21", "14:00", 60), start=at("14:00", 1)))
    assignments, _ = give(site, NIGHT, ("WRIST-01", pair))
    run = run_department(site, assignments, NIGHT)
    wash = way(run, "WRIST-01", "21").steps[1]
    assert (wash.begins, wash.queued) == (at("06:00", 1), 0)
    assert said(wash) == "washers to open at 06:00"


def test_that_sets_washed_together_are_one_load_in_the_worklist() -> None:
    site, assignments, _ = five_sets(1)
    site = station(site, "washers", per_load=5)
    run = run_department(site, assignments, NIGHT)
    washes = [load for load in run.loads if load.station == "washers" and load.begins < at("12:00")]
    # Four sinks: the fifth set is cleaned by hand only at 10:20 and misses the first load.
    assert [len(load.sets) for load in washes] == [4, 1]
    assert washes[0].first_due == at("13:30")
    assert washes[0].sets == ("WRIST-01", "WRIST-02", "WRIST-03", "WRIST-04")


def test_that_the_washer_is_held_for_the_fifth_set_where_the_site_lets_it_wait() -> None:
    site, assignments, _ = five_sets(1)
    site = station(site, "washers", per_load=5, longest_wait=20)
    run = run_department(site, assignments, NIGHT)
    washes = [load for load in run.loads if load.station == "washers" and load.begins < at("12:00")]
    assert [(len(load.sets), load.begins) for load in washes] == [(5, at("10:20"))]
    assert said(way(run, "WRIST-01", "21").steps[1]) == "a fuller load in washers 1"


def test_that_the_load_of_each_quarter_adds_up_to_the_machine_minutes() -> None:
    site, assignments, _ = five_sets(1)
    run = run_department(site, assignments, NIGHT)
    for name in site.stations:
        minutes = sum((load.ends - load.begins).total_seconds() / 60 for load in run.loads if load.station == name)
        assert sum(hour.busy * 15 for hour in run.hours if hour.station == name) == pytest.approx(minutes, abs=0.1)
    queue = {hour.begins: hour.waiting for hour in run.hours if hour.station == "washers"}
    # At 10:15 one of the first four is being washed and three wait; at 10:30 the fifth has come.
    assert (queue[at("10:15")], queue[at("10:30")], queue[at("10:45")]) == (3, 4, 3)


def test_that_what_is_dirty_or_in_process_now_is_in_the_run() -> None:
    site = ward({"WRIST": 4})
    sets = dict(site.sets)
    sets["WRIST-01"] = replace(sets["WRIST-01"], state=SetState.DIRTY)
    sets["WRIST-02"] = replace(sets["WRIST-02"], state=SetState.AT_STEP, step="wash", step_since=at("19:45"))
    sets["WRIST-03"] = replace(sets["WRIST-03"], state=SetState.ON_LOAN, back_at=at("21:00"))
    sets["WRIST-04"] = replace(sets["WRIST-04"], state=SetState.IN_USE, in_case="9")
    running = case("9", "19:00", 90, status=CaseStatus.RUNNING)
    site = replace(site, sets=sets, cases=(running,))
    run = run_department(site, [], at("20:00"))
    released = {one.set_id: one.released for one in run.runs}
    assert released == {
        "WRIST-01": at("20:00"),
        "WRIST-02": at("20:00"),
        "WRIST-03": at("21:00"),
        "WRIST-04": at("20:40"),
    }
    (washing,) = [one for one in run.runs if one.set_id == "WRIST-02"]
    assert (washing.steps[0].begins, washing.steps[0].ends) == (at("19:45"), at("20:25"))
    # assemble 20:25-20:45, steam 20:45-21:45, cool 40
    assert washing.ready == at("22:25")
    assert all(one.due is None and one.late == 0 for one in run.runs)


def one_washer_at_20(since: str) -> tuple[tuple[StepRun, ...], ...]:
    """The steps of a set recorded in the only washer, and of a dirty one that waits for it, as run at 20:00."""
    site = station(ward({"WRIST": 2}), "washers", machines=1, per_load=1)
    sets = {
        "WRIST-01": replace(site.sets["WRIST-01"], state=SetState.AT_STEP, step="wash", step_since=at(since)),
        "WRIST-02": replace(site.sets["WRIST-02"], state=SetState.DIRTY),
    }
    return tuple(one.steps for one in run_department(replace(site, sets=sets), [], at("20:00")).runs)


def test_that_a_step_that_is_overdue_ends_now_and_blocks_its_machine_no_longer() -> None:
    """In the only washer since 18:00, though 40 min are enough: at 20:00 it comes out, and the dirty set goes in."""
    first, second = one_washer_at_20(since="18:00")
    assert (first[0].begins, first[0].ends, first[1].begins) == (at("18:00"), at("20:00"), at("20:00"))
    assert (second[1].begins, second[1].ends) == (at("20:20"), at("21:00"))


def test_that_a_step_recorded_as_of_later_than_now_has_its_machine_from_now_on() -> None:
    """Whoever wrote 20:15 was ahead of the clock: at 20:00 it is in the washer already, for 40 min."""
    first, second = one_washer_at_20(since="20:15")
    assert (first[0].begins, first[0].ends) == (at("20:00"), at("20:40"))
    assert second[1].begins == at("20:40")


def test_that_a_set_alone_in_the_department_is_ready_when_its_walk_says() -> None:
    site = ward({"WRIST": 1})
    assignments, _ = give(site, NIGHT, ("WRIST-01", (case("11", "07:30", 120), case("21", "14:00", 60))))
    run = run_department(site, assignments, NIGHT)
    assert all(one.ready == one.alone_ready for one in run.runs)


def test_that_the_same_day_is_run_the_same_whatever_the_order_of_the_sheets() -> None:
    site, assignments, _ = five_sets(2)
    turned = replace(site, sets=dict(list(site.sets.items())[::-1]), stations=dict(list(site.stations.items())[::-1]))
    assert run_department(site, assignments, NIGHT) == run_department(turned, assignments[::-1], NIGHT)


def test_that_a_set_nobody_waits_for_lets_urgent_ones_pass_but_not_for_ever() -> None:
    """One washer. The dirty set is there first; the one for 13:30 passes it, the one for the day after does not."""
    site = station(ward({"WRIST": 3}), "washers", machines=1, per_load=1)
    sets = {set_id: replace(one, state=SetState.DIRTY) for set_id, one in site.sets.items()}
    site = replace(site, sets=sets)
    later = replace(case("22", "14:00", 60), start=at("14:00", 2))
    assignments, _ = give(site, at("09:40"), ("WRIST-02", (case("21", "14:00", 60),)), ("WRIST-03", (later,)))
    run = run_department(site, assignments, at("09:40"))
    washed = {one.set_id: one.steps[1].begins for one in run.runs if not one.from_case}
    assert washed == {"WRIST-02": at("10:00"), "WRIST-01": at("10:40"), "WRIST-03": at("11:20")}


def test_that_a_set_late_by_the_load_comes_back_late_from_its_case() -> None:
    """WRIST-05 is 110 min late for case 25, which waits for it; so it comes back at 17:00 instead of 15:10."""
    site, assignments, _ = five_sets(1)
    run = run_department(site, assignments, NIGHT)
    assert way(run, "WRIST-05", "").released == at("17:00")
    assert way(run, "WRIST-01", "").released == at("15:10")


def test_that_crew_on_its_break_takes_nothing_that_it_cannot_end_before() -> None:
    """Assembly takes 20 min and pauses from 11:00 to 11:30; a set washed at 10:50 waits for the end of the break."""
    hours = (*open_daily("assembly", "06:00", "11:00"), *open_daily("assembly", "11:30", "23:00"))
    site = ward({"WRIST": 1}, hours=hours)
    assignments, _ = give(site, NIGHT, ("WRIST-01", (case("11", "07:30", 130), case("21", "14:00", 60))))
    assembly = way(run_department(site, assignments, NIGHT), "WRIST-01", "21").steps[2]
    assert (assembly.arrives, assembly.begins, assembly.queued) == (at("10:50"), at("11:30"), 0)
    assert said(assembly) == "assembly to open at 11:30"


def test_that_fixed_starts_and_runs_are_waited_for_by_name() -> None:
    """Washers start on the hour and half hour, the sterilizer stands at the end of a van run."""
    steps = list(ROUTE.steps)
    steps[3] = replace(steps[3], after=("van",))
    steps.insert(3, Step(name="van", after=("assemble",), usual_minutes=40, least_minutes=40, run="van out"))
    departures = [Departure(run="van out", weekday=day, leaves=at("13:00").time()) for day in range(7)]
    site = ward({"WRIST": 1}, route=Route(id="R", steps=tuple(steps)), departures=departures)
    site = station(site, "washers", start_every=30)
    assignments, _ = give(site, NIGHT, ("WRIST-01", (case("11", "07:30", 120), case("21", "16:00", 60))))
    one = way(run_department(site, assignments, NIGHT), "WRIST-01", "21")
    # 09:40 + 20 = 10:00 is a start; with 5 min more it is not.
    assert one.steps[1].waited == 0
    assert (one.steps[3].waited, said(one.steps[3])) == (120, "van out to leave at 13:00")
    late, _ = give(site, NIGHT, ("WRIST-01", (case("11", "07:30", 125), case("21", "16:00", 60))))
    wash = way(run_department(site, late, NIGHT), "WRIST-01", "21").steps[1]
    assert (wash.waited, said(wash)) == (25, "the 10:30 start of washers")


def test_that_an_implant_set_waits_for_its_indicator_where_the_site_says_so() -> None:
    """Sterilized at 12:00; cooled at 12:40, the indicator read at 15:10."""
    indicator = Step(
        name="indicator",
        after=("steam",),
        usual_minutes=200,
        least_minutes=190,
        station="reader",
        only_for=StepOnlyFor.IMPLANTS,
    )
    route = Route(id="R", steps=(*ROUTE.steps, indicator))
    stations = (*STATIONS, Station(id="reader", machines=8))
    ready = {}
    for waits in (True, False):
        site = ward({"IMPLANT": 1}, route=route, stations=stations, implants_wait=waits)
        site = replace(site, trays={"IMPLANT": replace(site.trays["IMPLANT"], implants=True)})
        assignments, _ = give(site, NIGHT, ("IMPLANT-01", (case("11", "07:30", 120), case("21", "17:00", 60))))
        ready[waits] = way(run_department(site, assignments, NIGHT), "IMPLANT-01", "21").ready
    assert ready == {True: at("15:10"), False: at("12:40")}


def test_that_minutes_are_right_in_the_night_in_which_the_clock_goes_back() -> None:
    """Halifax, 1 November 2026: from 01:40 the wash runs 40 min and ends at 01:20 by the wall clock."""
    site = ward({"WRIST": 1})
    site = replace(site, settings=replace(site.settings, time_zone="America/Halifax"))
    sets = {set_id: replace(one, state=SetState.DIRTY) for set_id, one in site.sets.items()}
    clock = site.settings.site_clock
    now = clock.instant(date(2026, 11, 1), time(1, 20))
    run = run_department(replace(site, sets=sets), [], now)
    text = explain_set(run, (), "WRIST-01", clock)
    assert text[2] == "wash at washers 1: 01:40 ADT to 01:20 AST"
    assert (run.runs[0].ready - now).total_seconds() / 60 == 180
