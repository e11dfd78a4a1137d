"""The department's run against published shops: no run beats a proved optimum, and published orders take as long.

A machine is a station of one place, a job is a set and its operations are the steps of the set's route.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations, permutations

import pytest

from picklist.department.best_run import run_best
from picklist.department.forward import run_forward
from picklist.department.run_terms import DepartmentJob, JobStep
from picklist.model.routes import Station
from tests.department.shop import job, lateness, shop

# Lawrence's 10 jobs on 5 machines (1984), machine and minutes in turn, optimum 666: JSPLIB.
LA01 = """1 21 0 53 4 95 3 55 2 34 / 0 21 3 52 4 16 2 26 1 71 / 3 39 4 98 1 42 2 31 0 12 / 1 77 0 55 4 79 2 66 3 77
/ 0 83 3 34 2 64 1 19 4 37 / 1 54 2 43 4 79 0 92 3 62 / 3 69 4 77 1 87 2 87 0 93 / 2 38 0 60 1 41 3 24 4 83
/ 3 17 1 49 4 25 0 44 2 98 / 4 77 3 79 2 43 1 75 0 96"""

# Taillard's first 20 jobs through 5 machines, *EJOR* 64 (1993) 278-285, one line a machine, optimum 1278 (proved in
# ScheduleOpt/optalcp-benchmarks): ScheduleOpt/benchmarks (CC BY-SA 4.0).
TA001 = """54 83 15 71 77 36 53 38 27 87 76 91 14 29 12 77 32 87 68 94
79 3 11 99 56 70 99 60 5 56 3 61 73 75 47 14 21 86 5 77
16 89 49 15 89 45 60 23 57 64 7 1 63 41 63 47 26 75 77 40
66 58 31 68 78 91 13 59 49 85 85 9 39 41 56 40 54 77 51 31
58 56 20 85 53 35 53 41 69 13 86 72 8 49 47 87 58 18 68 28"""


def machines(count: int) -> tuple[Station, ...]:
    return tuple(Station(id=f"m{n}") for n in range(count))


def ranked(name: str, steps: Sequence[tuple[str, int]], ranks: Sequence[int]) -> DepartmentJob:
    """A job whose step goes before another's that waits for the same machine where its rank is lower."""
    one = job(name, *steps, due=0)
    made = zip(one.steps, ranks, strict=True)
    return replace(one, steps=tuple(replace(step, deadline=rank, cycle=name) for step, rank in made))


def span(jobs: Sequence[DepartmentJob], stations: Sequence[Station]) -> int:
    return max(run_forward(list(jobs), shop(*stations)).ready)


def in_order(times: Sequence[Sequence[int]], order: Sequence[int]) -> int:
    """The length of a flow shop whose jobs go through all machines in one order."""
    jobs = [
        ranked(f"J{n}", [(f"m{m}", minutes) for m, minutes in enumerate(times[n])], [rank] * len(times[n]))
        for rank, n in enumerate(order)
    ]
    return span(jobs, machines(len(times[0])))


def test_that_no_run_of_ten_jobs_on_five_machines_beats_666() -> None:
    rows = [[int(word) for word in line.split()] for line in LA01.replace("\n", " ").split("/")]
    steps = [[(f"m{m}", minutes) for m, minutes in zip(row[::2], row[1::2], strict=True)] for row in rows]
    chance = random.Random(1)
    spans = []
    for _ in range(200):
        orders = [[chance.randrange(1000) for _ in row] for row in steps]
        jobs = [ranked(f"J{n}", row, ranks) for n, (row, ranks) in enumerate(zip(steps, orders, strict=True))]
        spans.append(span(jobs, machines(5)))
    assert 666 <= min(spans) <= 760
    assert max(sum(t for row in steps for m, t in row if m == f"m{n}") for n in range(5)) == 666  # its busiest machine


def test_that_no_order_of_twenty_jobs_through_five_machines_beats_1278() -> None:
    times = list(zip(*([int(word) for word in line.split()] for line in TA001.splitlines()), strict=True))
    chance = random.Random(1)
    best, order = in_order(times, range(20)), list(range(20))
    for _ in range(300):
        tried = order.copy()
        tried.insert(chance.randrange(20), tried.pop(chance.randrange(20)))
        length = in_order(times, tried)
        if length <= best:
            best, order = length, tried
    assert 1278 <= best <= 1278 * 1.05


def test_johnsons_order_of_six_jobs_takes_51() -> None:
    """Stevenson, *Operations Management*, example 16-4: order D-E-C-F-A-B; 51 is the best of all 720 orders."""
    times = {"A": (5, 5), "B": (4, 3), "C": (8, 9), "D": (2, 7), "E": (6, 8), "F": (12, 15)}
    names = list(times)
    lengths = {"".join(order): in_order([times[one] for one in order], range(6)) for order in permutations(names)}
    assert lengths["DECFAB"] == 51
    assert min(lengths.values()) == 51


def test_that_a_wrong_answer_in_print_is_not_reached() -> None:
    """L10/2 M5/4 N7/5 O3/6 P1/7 stands in print with 26 (a site of answers, 392320); no order is below 28."""
    times = [(10, 2), (5, 4), (7, 5), (3, 6), (1, 7)]
    assert min(in_order(times, order) for order in permutations(range(5))) == 28


def test_five_jobs_by_earliest_due_date() -> None:
    """A course's exercise (homeworklib 1889091): order 4-5-3-1-2, done after 2, 8, 11, 18, 23; late 0, 0, 1, 4, 2."""
    minutes, due = (7, 5, 3, 2, 6), (14, 21, 10, 7, 9)
    jobs = [job(f"{n}", ("m0", t), due=d) for n, (t, d) in enumerate(zip(minutes, due, strict=True), start=1)]
    run = run_forward(jobs, shop(*machines(1)))
    done = dict(zip("12345", run.ready, strict=True))
    assert [done[name] for name in "45312"] == [2, 8, 11, 18, 23]
    assert [max(0, done[name] - due[int(name) - 1]) for name in "45312"] == [0, 0, 1, 4, 2]
    assert lateness(jobs, run.ready) == 4


@pytest.mark.parametrize(
    ("minutes", "due", "late"),
    [
        # read as data; the answer was checked over all subsets
        ((19, 23, 5, 31, 17, 8, 32, 41, 26, 18), (48, 75, 170, 215, 205, 240, 85, 67, 100, 95), 2),
        # after slides of TU Eindhoven (bsraya.com/blog/moore-hodgeson): on time 2, 3 and 5
        ((4, 3, 2, 5, 6), (6, 7, 8, 9, 11), 2),
    ],
)
def test_that_no_run_has_fewer_late_sets_than_moore_and_hodgson(
    minutes: tuple[int, ...], due: tuple[int, ...], late: int
) -> None:
    """Moore, *Management Science* 15 (1968) 102-109: fewest late jobs on one machine."""
    jobs = [job(f"{n}", ("m0", t), due=d) for n, (t, d) in enumerate(zip(minutes, due, strict=True))]
    ready = run_best(jobs, shop(*machines(1))).outcome.ready
    assert sum(end > d for end, d in zip(ready, due, strict=True)) >= late
    kept = most_in_time(minutes, due)
    first = sorted(range(len(due)), key=lambda n: (n not in kept, due[n]))
    done = run_forward(
        [replace(jobs[n], steps=rank(jobs[n], place)) for place, n in enumerate(first)], shop(*machines(1))
    )
    assert sum(end > due[n] for end, n in zip(done.ready, first, strict=True)) == late == len(due) - len(kept)


def rank(one: DepartmentJob, place: int) -> tuple[JobStep, ...]:
    return tuple(replace(step, deadline=place) for step in one.steps)


def most_in_time(minutes: Sequence[int], due: Sequence[int]) -> tuple[int, ...]:
    """The largest choice of jobs that are all in time when they go by due date; over all subsets."""
    places = range(len(due))
    choices = (kept for count in reversed(places) for kept in combinations(places, count + 1))
    return next(kept for kept in choices if are_in_time(sorted(kept, key=lambda n: due[n]), minutes, due))


def are_in_time(order: Sequence[int], minutes: Sequence[int], due: Sequence[int]) -> bool:
    return all(sum(minutes[n] for n in order[: place + 1]) <= due[order[place]] for place in range(len(order)))
