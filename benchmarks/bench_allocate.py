"""What it costs to give sets to uses exactly, against serving them first come, first served.

    python -m benchmarks.bench_allocate

One tray with 2,000 uses, with enough sets and with too few; a day of 200 cases over twenty trays; 10,000
cases of a region over 300 trays. The floor is one network and one call of the solver a part; what a plain
first-come rule would serve stands beside ours.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from heapq import heapify, heappop, heappush

from benchmarks.measured import Measured, processor_seconds, table
from picklist.sets.allocation.levels import serving_levels
from picklist.sets.allocation.network import make_network
from picklist.sets.allocation.program import Bounds
from picklist.sets.allocation.solve import solve, split
from picklist.sets.allocation.terms import AllocationAnswer, AllocationQuestion, Copy, Job, Option, Ready

TURNAROUND = 190


def make_question(uses: int, trays: int, sets: int, days: int) -> AllocationQuestion:
    """Random uses spread over days; each tray with so many sets on the shelf."""
    draw = random.Random(1)
    names = [f"T{n:03d}" for n in range(trays)]
    jobs = []
    for n in range(uses):
        tray = draw.choice(names)
        need = draw.randrange(days) * 1440 + 15 * draw.randrange(28, 70)
        free = need + 30 + 15 * draw.randrange(2, 16) + TURNAROUND
        back = {tray: {"": Ready(usual=free, least=free)}}
        jobs.append(Job(key=f"U{n:05d}", need=need, start=need + 30, options=(Option(kind=tray),), back=back))
    there = Ready(usual=-1000, least=-1000, waits=False)
    copies = tuple(Copy(id=f"{tray}-{n}", kind=tray, first={"": there}) for tray in names for n in range(sets))
    return AllocationQuestion(jobs=tuple(jobs), copies=copies, pools={tray: tray for tray in names})


def serve_first_come(question: AllocationQuestion) -> int:
    """How many uses a plain rule serves: in order of need, each by the set that is free the longest."""
    free: dict[str, list[int]] = {}
    for copy in question.copies:
        free.setdefault(copy.kind, []).append(copy.first[""].usual)
    for times in free.values():
        heapify(times)
    served = 0
    for job in sorted(question.jobs, key=lambda job: (job.need, job.key)):
        times = free[job.options[0].kind]
        if times[0] <= job.need:
            heappop(times)
            heappush(times, job.back[job.options[0].kind][""].usual)
            served += 1
    return served


def one_call(question: AllocationQuestion) -> None:
    """The floor: for each part one network and one call of the solver, for the weight of what is served alone."""
    for part in split(question):
        network = make_network(part)
        weight = serving_levels(network)[0]
        Bounds(network.program, ()).least(weight, ())


def measure(name: str, sizes: Sequence[int]) -> Measured:
    """How many are served, also by the plain rule, and the time."""
    question, answers = make_question(*sizes), list[AllocationAnswer]()
    floor = processor_seconds(lambda: one_call(question))
    took = processor_seconds(lambda: answers.append(solve(question)))
    words = f"{name}: {len(answers[0].given)} served ({serve_first_come(question)} first come)"
    return Measured(work=words, seconds=took, floor=floor, against="one network and one call of the solver")


QUESTIONS = {
    "2,000 uses of one tray, 24 sets, 60 days": (2000, 1, 24, 60),
    "2,000 uses of one tray, 14 sets, 60 days": (2000, 1, 14, 60),
    "200 cases of a day, 20 trays of 6 sets": (200, 20, 6, 1),
    "200 cases of a day, 20 trays of 3 sets": (200, 20, 3, 1),
    "10,000 uses of a region, 300 trays of 3 sets": (10000, 300, 3, 10),
}


def main(*, small: bool = False) -> list[Measured]:
    """Measure each question."""
    questions = {"60 uses of one tray, 4 sets, 5 days": (60, 1, 4, 5)} if small else QUESTIONS
    return [measure(name, sizes) for name, sizes in questions.items()]


if __name__ == "__main__":
    print(table(main()))
