"""How late the forward run is against the least possible, and what a run costs.

    python -m benchmarks.bench_department

Days of 20, 40 and 60 sets on one washer and one sterilizer with loads (with ``--large`` four of each); HiGHS solves
the same day as a time-indexed model (tests/department/exact.py) and proves a bound. All lateness is the greatest, in
minutes. Costs are ratios within this run; with ``--large`` those of a region too.
"""

from __future__ import annotations

import random
import sys
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from statistics import median
from time import perf_counter

from benchmarks.department_day import DepartmentDay, make_department_day
from benchmarks.measured import Measured, processor_seconds, table
from benchmarks.scenario import BIG_DAY, FEW, REGION, SAMPLE
from picklist.department import run_department
from picklist.department.best_run import judge, run_best
from picklist.department.forward import run_forward
from picklist.department.run_terms import DepartmentJob
from picklist.model.routes import Station
from picklist.model.uses import Pace
from picklist.sets.turnaround import Turnaround
from tests.department.exact import least_lateness
from tests.department.shop import job, shop

SLOT = 20
SECONDS = 15  # that HiGHS may take for a day
SECONDS_OF_LARGE = 60
STATIONS = (
    Station(id="washer", machines=1, per_load=4, longest_wait=60),
    Station(id="steam", machines=1, per_load=6, longest_wait=60),
)


def make_jobs(count: int, seed: int) -> list[DepartmentJob]:
    """Six sets an hour on average; wash 40, steam 60 min; each is due two to five hours after it came."""
    chance = random.Random(seed)
    jobs = []
    for n in range(count):
        released = SLOT * chance.randrange(count * 10 // SLOT)
        due = released + SLOT * chance.randrange(6, 15)
        jobs.append(job(f"S{n:02d}", ("washer", 40), ("steam", 60), released=released, due=due))
    return jobs


def compare_with_optimum(counts: Sequence[int], days: int, seconds: int) -> None:
    print("greatest lateness, min      first come  deadline  + held loads   HiGHS   bound   gap   sec")
    for count in counts:
        for seed in range(days):
            jobs = make_jobs(count, seed)
            first_come, by_deadline = (
                judge(jobs, run_forward(some, shop(*STATIONS)).ready)[2] for some in (_undated(jobs), jobs)
            )
            held = run_best(jobs, shop(*STATIONS)).cost[2]
            began = perf_counter()
            answer = least_lateness(jobs, STATIONS, slot=SLOT, known=held, seconds=seconds)
            print(
                f"{count} sets, day {seed}         {first_come:10} {by_deadline:9} {held:13}"
                f" {answer.best:7.0f} {answer.bound:7.0f} {held - answer.bound:5.0f} {perf_counter() - began:5.1f}"
            )


def _undated(jobs: Sequence[DepartmentJob]) -> list[DepartmentJob]:
    """Jobs whose steps have no deadlines, so that stations take them as they come."""
    return [replace(job, steps=tuple(replace(step, deadline=None) for step in job.steps)) for job in jobs]


def compare_cost(*, small: bool, large: bool) -> list[Measured]:
    """The floor is walking each use's set once, alone, at one pace."""
    found = []
    scarce = replace(BIG_DAY, name="big day, two sets where the sample has one", sets=2)
    sizes = [(FEW, 1)] if small else [(SAMPLE, 5), (scarce, 5)]
    for size, times in [*sizes, (REGION, 1)] if large else sizes:
        day = make_department_day(size)
        floor, whole = clock(partial(walk_alone, day), times), clock(partial(run_whole, day), times)
        words = f"department, {size.name}: {len(day.assignments)} uses"
        found.append(Measured(work=words, seconds=whole, floor=floor, against="walking each set alone"))
    return found


def walk_alone(day: DepartmentDay) -> None:
    turnaround = Turnaround(day.site)
    for given in day.assignments:
        turnaround.free_after(given.use, given.tray_given, Pace.LEAST)


def run_whole(day: DepartmentDay) -> None:
    run_department(day.site, day.assignments, day.now)


def clock(work: Callable[[], object], times: int) -> float:
    return median([processor_seconds(work) for _ in range(times)])


def main(*, small: bool = False, large: bool = False) -> list[Measured]:
    """Compare with the optimum, and measure the cost; of a region too when ``large``."""
    counts, days = ((8,), 1) if small else ((20, 40, 60), 4 if large else 1)
    compare_with_optimum(counts, days, SECONDS_OF_LARGE if large else SECONDS)
    return compare_cost(small=small, large=large)


if __name__ == "__main__":
    print(table(main(large="--large" in sys.argv)))
