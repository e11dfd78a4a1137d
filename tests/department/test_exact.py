"""How good the forward run is: against the optimum of an independent model, and published optima."""

from __future__ import annotations

import random
from dataclasses import replace

from picklist.department.best_run import judge, run_best
from picklist.department.forward import run_forward
from picklist.department.run_terms import DepartmentJob
from picklist.model.routes import Station
from tests.department.exact import least_lateness
from tests.department.shop import job, lateness, shop
from tests.department.test_forward import jackson_jobs

# Fisher and Thompson's six jobs on six machines (1963), optimum 55: (machine, minutes) of each job in turn.
FT06 = (
    ((2, 1), (0, 3), (1, 6), (3, 7), (5, 3), (4, 6)),
    ((1, 8), (2, 5), (4, 10), (5, 10), (0, 10), (3, 4)),
    ((2, 5), (3, 4), (5, 8), (0, 9), (1, 1), (4, 7)),
    ((1, 5), (0, 5), (2, 5), (3, 3), (4, 8), (5, 9)),
    ((2, 9), (1, 3), (4, 5), (5, 4), (0, 3), (3, 1)),
    ((1, 3), (3, 3), (5, 9), (0, 10), (4, 4), (2, 1)),
)
MACHINES = tuple(Station(id=f"m{n}") for n in range(6))


def ft06(order: list[int]) -> list[DepartmentJob]:
    """The six jobs; the order says which goes first where two wait for a machine. Each step is a cycle of its own."""
    jobs = []
    for n, steps in enumerate(FT06):
        one = job(f"J{n}", *((f"m{machine}", minutes) for machine, minutes in steps), due=0)
        made = tuple(replace(step, deadline=order[n * 6 + s], cycle=f"J{n}") for s, step in enumerate(one.steps))
        jobs.append(replace(one, steps=made))
    return jobs


def test_that_no_run_of_the_six_by_six_shop_beats_its_published_optimum() -> None:
    """Any order of taking jobs gives a schedule of 55 or more; a few hundred come near it."""
    chance = random.Random(6)
    spans = []
    for _ in range(300):
        order = [chance.randrange(1000) for _ in range(36)]
        spans.append(max(run_forward(ft06(order), shop(*MACHINES)).ready))
    assert 55 <= min(spans) <= 60


def test_that_the_model_finds_the_published_optimum_of_the_six_by_six_shop() -> None:
    answer = least_lateness(ft06([0] * 36), MACHINES, slot=1, known=56)
    assert (answer.best, round(answer.bound)) == (55, 55)


def test_that_the_model_agrees_with_jackson() -> None:
    jobs = [replace(one, steps=(replace(one.steps[0], cycle=one.set_id),)) for one in jackson_jobs()]
    answer = least_lateness(jobs, [Station(id="washer")], slot=1, known=6)
    assert (answer.best, round(answer.bound)) == (1, 1)


WASHER = Station(id="washer", machines=1, per_load=2, longest_wait=60)
STEAM = Station(id="steam", machines=1, per_load=3, longest_wait=60)


def two_stages(seed: int, count: int) -> list[DepartmentJob]:
    """Sets come in over three hours; wash 40, steam 60 min; each is due two to five hours after it came."""
    chance = random.Random(seed)
    jobs = []
    for n in range(count):
        released = 20 * chance.randrange(9)
        due = released + 20 * chance.randrange(5, 14)
        jobs.append(job(f"S{n:02d}", ("washer", 40), ("steam", 60), released=released, due=due))
    return jobs


def test_that_the_run_is_close_to_the_least_lateness_of_small_days() -> None:
    """Ten days of eight sets, one washer and one sterilizer: never better than the optimum, and mostly as good."""
    gaps = []
    for seed in range(10):
        jobs = two_stages(seed, 8)
        greatest, _, _ = run_best(jobs, shop(WASHER, STEAM)).cost
        answer = least_lateness(jobs, [WASHER, STEAM], slot=20, known=greatest)
        gaps.append(greatest - max(0, round(answer.best)))
    assert min(gaps) >= 0
    assert gaps.count(0) >= 8
    assert max(gaps) <= 20


def test_that_holding_the_load_is_worth_trying() -> None:
    """Over a dozen days, the best of the ways to hold is never later than not holding, and sometimes better."""
    better = 0
    for seed in range(12):
        jobs = two_stages(seed, 14)
        plain = judge(jobs, run_forward(jobs, shop(WASHER, STEAM)).ready)
        held = run_best(jobs, shop(WASHER, STEAM)).cost
        assert held <= plain
        better += held < plain
    assert better


def test_that_equal_sets_on_one_batch_machine_end_as_early_as_can_be() -> None:
    """One machine, equal cycles, sets that come one by one: the last full loads are filled from the end.

    Ikura and Gimple, Operations Research Letters 5 (1986), from memory: with n sets and c a
    load, the loads are the last c, the c before them, and so on; each begins when its last set
    has come and the machine is free. No order of loads ends earlier.
    """
    releases = [0, 10, 25, 30, 70, 75, 90]
    size, cycle = 3, 50
    first = len(releases) % size
    groups = [releases[:first], *(releases[n : n + size] for n in range(first, len(releases), size))]
    ends = 0
    for group in groups:
        ends = max(ends, group[-1]) + cycle
    best = min(_ends_of(releases, cuts, cycle) for cuts in _cuts(len(releases), size))
    assert ends == best == 150
    station = Station(id="steam", per_load=size, longest_wait=60)
    jobs = [job(f"S{n}", ("steam", cycle), released=r, due=150) for n, r in enumerate(releases)]
    outcome = run_best(jobs, shop(station)).outcome
    assert max(outcome.ready) == best
    assert lateness(jobs, outcome.ready) == 0


def _cuts(count: int, size: int) -> list[tuple[int, ...]]:
    """All ways to cut a row into loads of at most ``size``."""
    if count == 0:
        return [()]
    return [(n, *rest) for n in range(1, min(size, count) + 1) for rest in _cuts(count - n, size)]


def _ends_of(releases: list[int], sizes: tuple[int, ...], cycle: int) -> int:
    ends = place = 0
    for size in sizes:
        place += size
        ends = max(ends, releases[place - 1]) + cycle
    return ends
