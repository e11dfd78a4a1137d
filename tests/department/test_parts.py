"""Departments that share no station run side by side: what is best for one never depends on the other."""

from __future__ import annotations

from dataclasses import replace
from itertools import zip_longest

from hypothesis import given
from hypothesis import strategies as st

from picklist.department.best_run import HOLD_SHARES, judge, run_best, try_holding
from picklist.department.forward import ready_in_run, ready_while_better, run_forward
from picklist.department.jobs import split_jobs
from picklist.department.run_terms import DepartmentJob
from picklist.model.routes import Station
from tests.department.shop import job, shop

NORTH = Station(id="north washer", machines=1, per_load=2, longest_wait=60)
SOUTH = Station(id="south washer", machines=1, per_load=2, longest_wait=60)


def test_that_each_department_holds_its_loads_as_suits_it() -> None:
    """In the north waiting 30 min saves a load of 60; in the south the set due at once may not be kept waiting."""
    north = [job("N1", ("north washer", 60), due=100), job("N2", ("north washer", 60), released=30, due=100)]
    south = [job("S1", ("south washer", 60), due=65), job("S2", ("south washer", 60), released=40, due=300)]
    trial = run_best([*north, *south], shop(NORTH, SOUTH))
    assert trial.outcome.ready == (90, 90, 60, 120)
    assert trial.hold["north washer"] >= 30


def test_that_a_set_that_comes_back_ties_what_it_passes_through() -> None:
    first, other = job("A", ("north washer", 30)), job("B", ("south washer", 30))
    again = replace(job("A", ("south washer", 30)), follows=0, away=120)
    assert [[one.set_id for one in part.jobs] for part in split_jobs([first, other, again])] == [["A", "B", "A"]]
    apart = replace(job("A", ("north washer", 30)), follows=0, away=120)
    parts = split_jobs([first, other, apart])
    assert [[(one.set_id, one.follows) for one in part.jobs] for part in parts] == [
        [("A", None), ("A", 0)],
        [("B", None)],
    ]


def jobs_of(station: str) -> st.SearchStrategy[list[DepartmentJob]]:
    times = st.lists(st.tuples(st.integers(0, 120), st.integers(30, 240)), min_size=1, max_size=6)
    return times.map(
        lambda pairs: [
            job(f"{station} {n}", (station, 40), released=released, due=released + wait)
            for n, (released, wait) in enumerate(pairs)
        ]
    )


@given(north=jobs_of("north washer"), south=jobs_of("south washer"))
def test_that_two_departments_together_run_as_each_alone(
    north: list[DepartmentJob], south: list[DepartmentJob]
) -> None:
    both = run_best([*north, *south], shop(NORTH, SOUTH))
    alone = [run_best(north, shop(NORTH)), run_best(south, shop(SOUTH))]
    assert both.outcome.ready == tuple(ready for one in alone for ready in one.outcome.ready)
    assert both.hold == alone[0].hold | alone[1].hold


@given(north=jobs_of("north washer"), south=jobs_of("south washer"))
def test_that_two_departments_run_side_by_side_as_they_run_in_one(
    north: list[DepartmentJob], south: list[DepartmentJob]
) -> None:
    jobs = [job for pair in zip_longest(north, south) for job in pair if job]
    best = run_best(jobs, shop(NORTH, SOUTH))
    whole = run_forward(jobs, replace(shop(NORTH, SOUTH), hold=best.hold))
    assert (best.outcome.visits, best.outcome.ready) == (whole.visits, whole.ready)
    assert sorted(best.outcome.batches, key=lambda one: one.id) == sorted(whole.batches, key=lambda one: one.id)


@given(jobs=jobs_of("north washer"), latest=st.integers(-200, 200))
def test_that_only_a_run_that_cannot_be_the_best_is_given_up(jobs: list[DepartmentJob], latest: int) -> None:
    whole = run_forward(jobs, shop(NORTH))
    in_time = whole.ready if judge(jobs, whole.ready)[2] <= latest else None
    assert ready_while_better(jobs, shop(NORTH), latest) == in_time
    assert ready_in_run(jobs, shop(NORTH)) == whole.ready
    shares = [try_holding(jobs, shop(NORTH), {NORTH.id: 60 * n // HOLD_SHARES}) for n in range(HOLD_SHARES + 1)]
    assert run_best(jobs, shop(NORTH)).cost <= min(one.cost for one in shares)
