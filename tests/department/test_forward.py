"""Sets go through finite machines in the order of the rule, with nothing lost and nothing in two places."""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations

from hypothesis import given, settings
from hypothesis import strategies as st

from picklist.department.forward import run_forward
from picklist.department.run_terms import NEVER, DepartmentJob, RunOutcome
from picklist.model.routes import Station
from tests.department.shop import Closed, job, lateness, shop
from tests.patience import tries

# Jackson, 1955: earliest due date (numbers from memory; the optimum was checked over all 720 orders).
JACKSON_MINUTES = (3, 2, 1, 4, 3, 2)
JACKSON_DUE = (6, 8, 9, 9, 14, 15)


def jackson_jobs() -> list[DepartmentJob]:
    return [
        job(f"S{n}", ("washer", t), due=d) for n, (t, d) in enumerate(zip(JACKSON_MINUTES, JACKSON_DUE, strict=True))
    ]


def best_of_all_orders(jobs: list[DepartmentJob]) -> int:
    best = NEVER
    for order in permutations(jobs):
        clock, worst = 0, -NEVER
        for one in order:
            clock = max(clock, one.released) + one.steps[0].minutes
            worst = max(worst, clock - (one.due or 0))
        best = min(best, worst)
    return best


def test_that_one_washer_serves_six_sets_by_earliest_deadline_as_jackson_says() -> None:
    run = run_forward(jackson_jobs(), shop(Station(id="washer")))
    assert run.ready == (3, 5, 6, 10, 13, 15)
    assert lateness(jackson_jobs(), run.ready) == 1
    assert best_of_all_orders(jackson_jobs()) == 1


@settings(max_examples=tries(60))
@given(st.lists(st.tuples(st.integers(1, 9), st.integers(1, 40)), min_size=1, max_size=6))
def test_that_on_one_machine_no_order_beats_the_earliest_deadline(sets: list[tuple[int, int]]) -> None:
    jobs = [job(f"S{n}", ("washer", t), due=d) for n, (t, d) in enumerate(sets)]
    run = run_forward(jobs, shop(Station(id="washer")))
    assert lateness(jobs, run.ready) == best_of_all_orders(jobs)


def test_that_johnsons_two_machines_take_47() -> None:
    """Johnson, Naval Research Logistics Quarterly 1 (1954): order 5-1-4-3-2 takes 47 (from memory)."""
    times = {1: (4, 5), 2: (4, 1), 3: (30, 4), 4: (6, 30), 5: (2, 3)}
    spans = {}
    for order in permutations(times):
        jobs = []
        for rank, n in enumerate(order):
            one = job(f"S{n}", ("washer", times[n][0]), ("steam", times[n][1]), due=1000)
            jobs.append(replace(one, steps=tuple(replace(s, deadline=rank) for s in one.steps)))
        spans[order] = max(run_forward(jobs, shop(Station(id="washer"), Station(id="steam"))).ready)
    assert spans[5, 1, 4, 3, 2] == 47
    assert min(spans.values()) == 47


def test_that_a_load_takes_sets_of_one_cycle_in_the_order_of_the_rule() -> None:
    steam = Station(id="steam", per_load=2)
    jobs = [
        job("A", ("steam", 60), due=100, cycle="wrapped"),
        job("B", ("steam", 60), due=110, cycle="low"),
        job("C", ("steam", 60), due=120, cycle="wrapped"),
        job("D", ("steam", 60), due=130, cycle="wrapped"),
    ]
    run = run_forward(jobs, shop(steam))
    assert [sorted(jobs[j].set_id for j, _ in load.members) for load in run.batches] == [["A", "C"], ["B"], ["D"]]
    assert run.ready == (60, 120, 60, 180)


def test_that_a_load_is_held_for_a_set_on_its_way_but_not_past_a_deadline() -> None:
    steam = Station(id="steam", per_load=2)
    early = job("A", ("steam", 60), due=200)
    second = job("B", ("steam", 60), released=15, due=200)
    assert run_forward([early, second], shop(steam)).ready == (60, 120)
    assert run_forward([early, second], shop(steam, steam=20)).ready == (75, 75)
    assert run_forward([early, second], shop(steam, steam=10)).ready == (70, 130)
    urgent = job("A", ("steam", 60), due=65)
    assert run_forward([urgent, second], shop(steam, steam=20)).ready == (65, 125)
    assert run_forward([early], shop(steam, steam=20)).ready == (60,)


def test_that_a_step_under_way_keeps_its_machine() -> None:
    washing = job("A", ("washer", 40), due=100)
    washing = replace(washing, steps=(replace(washing.steps[0], started=-25),))
    run = run_forward([washing, job("B", ("washer", 40), due=50)], shop(Station(id="washer")))
    assert run.ready == (15, 55)


def test_that_a_step_under_way_for_too_long_ends_at_the_first_moment() -> None:
    """It should have been done 20 minutes ago: it is done now, and the next set goes in now."""
    washing = job("A", ("washer", 40), ("steam", 60), due=100)
    washing = replace(washing, steps=(replace(washing.steps[0], started=-60), washing.steps[1]))
    run = run_forward([washing, job("B", ("washer", 40), due=50)], shop(Station(id="washer"), Station(id="steam")))
    assert run.ready == (60, 40)
    assert run.batches[0].ends == 0


def test_that_steps_side_by_side_are_not_added() -> None:
    one = job("A", ("steam", 60), ("", 45), ("", 190), due=400)
    steps = (one.steps[0], one.steps[1], replace(one.steps[2], after=(0,)))
    assert run_forward([replace(one, steps=steps)], shop(Station(id="steam"))).ready == (250,)


def test_that_a_set_goes_again_only_after_it_was_ready_and_used() -> None:
    first = job("A", ("washer", 50), released=0, due=20)
    again = replace(job("A", ("washer", 50), released=60), follows=0, away=40)
    run = run_forward([first, again], shop(Station(id="washer")))
    assert run.released == (0, 90)
    assert run.ready == (50, 140)


def test_that_a_station_that_never_works_keeps_its_sets() -> None:
    under = replace(shop(Station(id="washer"), Station(id="steam")), times=Closed("steam"))
    run = run_forward([job("A", ("washer", 40), ("steam", 60), due=100), job("B", ("washer", 40))], under)
    assert run.ready == (NEVER, 80)


def check(jobs: list[DepartmentJob], stations: tuple[Station, ...], run: RunOutcome) -> None:
    for station in stations:
        loads = [b for b in run.batches if b.station == station.id]
        for load in loads:
            assert 1 <= len(load.members) <= station.per_load
            assert len({jobs[j].steps[s].cycle for j, s in load.members}) == 1
            assert sum(o.begins <= load.begins < o.ends for o in loads) <= station.machines
            assert not any(
                o is not load and o.machine == load.machine and o.begins <= load.begins < o.ends for o in loads
            )
    for (j, s), visit in run.visits.items():
        before = max((run.visits[j, p].ends for p in jobs[j].steps[s].after), default=jobs[j].released)
        assert visit.arrives == before <= visit.begins
        assert visit.ends - visit.begins >= jobs[j].steps[s].minutes
    assert len(run.visits) == sum(len(one.steps) for one in jobs)


@settings(max_examples=tries(60))
@given(
    st.lists(
        st.tuples(st.integers(0, 300), st.integers(10, 60), st.integers(10, 90), st.sampled_from(["x", "y"])),
        min_size=1,
        max_size=25,
    ),
    st.integers(1, 3),
    st.integers(1, 4),
    st.integers(0, 30),
)
def test_that_machines_loads_and_order_are_respected(
    sets: list[tuple[int, int, int, str]], machines: int, per_load: int, hold: int
) -> None:
    stations = (Station(id="washer", machines=machines), Station(id="steam", machines=machines, per_load=per_load))
    jobs = [
        job(f"S{n:02d}", ("washer", wash), ("steam", steam), released=r, due=r + 200 if n % 3 else None, cycle=cycle)
        for n, (r, wash, steam, cycle) in enumerate(sets)
    ]
    run = run_forward(jobs, shop(*stations, steam=hold))
    check(jobs, stations, run)
    assert run == run_forward(jobs, shop(*stations, steam=hold))
