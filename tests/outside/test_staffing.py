"""Sets given to uses against published rosters: a task is a use, a worker a set, a qualification a stand-in allowed.

Krishnamoorthy, Ernst and Baatar, *EJOR* 219 (2012) 34-48, and Smet et al., *Omega* 46 (2014) 64-73: fewest workers
for shifts whose tasks have fixed times. Intervals are half open: who ends at t may start another at t.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp

from picklist.sets.allocation.solve import solve
from picklist.sets.allocation.terms import Copy
from tests.outside.local_files import local
from tests.sets.allocation_words import job, question, shelf


@dataclass(frozen=True, slots=True)
class Roster:
    """Tasks from start to end, and which of them each worker may do."""

    tasks: tuple[tuple[int, int], ...]
    workers: tuple[frozenset[int], ...]

    def can_share(self, one: int, other: int) -> bool:
        """Whether one worker could do both tasks."""
        (start, end), (begin, finish) = self.tasks[one], self.tasks[other]
        return (end <= begin or finish <= start) and any({one, other} <= worker for worker in self.workers)

    def unserved(self, workers: Collection[int]) -> int:
        """How many tasks the allocation leaves when these workers are the sets."""
        jobs = [job(start, end, *self.allowed(n, workers), key=f"T{n}") for n, (start, end) in enumerate(self.tasks)]
        copies: tuple[Copy, ...] = tuple(copy for w in workers for copy in shelf(f"W{w}", 1))
        return len(solve(question(jobs, copies)).unserved)

    def allowed(self, task: int, workers: Collection[int]) -> tuple[str, ...]:
        """The kinds of set that may serve a task; one of which there is none where nobody may."""
        return tuple(f"W{w}" for w in workers if task in self.workers[w]) or ("nobody",)

    def fewest(self) -> tuple[int, ...]:
        """Fewest workers that do all tasks, by a model of our own that knows nothing of sets."""
        pairs = [(w, t) for w, can in enumerate(self.workers) for t in sorted(can)]
        columns = {pair: n for n, pair in enumerate(pairs)}
        used = {w: len(pairs) + w for w in range(len(self.workers))}
        rows: list[dict[int, float]] = []
        low: list[float] = []
        high: list[float] = []
        for t in range(len(self.tasks)):
            rows.append({columns[w, t]: 1.0 for w in used if (w, t) in columns})
            low.append(1)
            high.append(1)
        for w, column in used.items():
            for start, _ in self.tasks:
                at = [t for t, (begin, end) in enumerate(self.tasks) if begin <= start < end and (w, t) in columns]
                rows.append({columns[w, t]: 1.0 for t in at} | {column: -1.0})
                low.append(-np.inf)
                high.append(0)
        matrix = np.zeros((len(rows), len(pairs) + len(used)))
        for n, row in enumerate(rows):
            for column, value in row.items():
                matrix[n, column] = value
        costs = np.array([0.0] * len(pairs) + [1.0] * len(used))
        found = milp(costs, constraints=LinearConstraint(matrix, low, high), integrality=1, bounds=Bounds(0, 1))
        assert found.success
        return tuple(w for w, column in used.items() if found.x[column] > 0.5)


# Five workers and six tasks, fewest 3: a student's repository of heuristics for the same problem (a weak source);
# that no two workers do is checked below.
TOY = Roster(
    ((0, 4), (2, 6), (5, 9), (7, 10), (1, 5), (6, 8)),
    tuple(frozenset(n - 1 for n in one) for one in ({1, 3, 6}, {2, 4}, {1, 5, 6}, {2, 3, 4}, {4, 5, 6})),
)


def test_that_three_workers_do_the_six_tasks_and_no_two_do() -> None:
    workers = TOY.fewest()
    assert len(workers) == 3
    assert TOY.unserved(workers) == 0
    assert all(TOY.unserved((one, other)) > 0 for one in range(5) for other in range(one))


def read(file: Path) -> Roster:
    lines = [line for line in file.read_text(encoding="utf-8").splitlines() if line and not line.startswith("#")]
    count = int(lines[1].split("=")[1])
    tasks = tuple((int(a), int(b)) for a, b in (line.split() for line in lines[2 : 2 + count]))
    rows = lines[3 + count :]
    return Roster(tasks, tuple(frozenset(int(word) for word in row.split(":")[1].split()) for row in rows))


# Fewest workers, proved: results2.xls of vale1410/SMPTSP, lower and upper bound alike.
PROVED = {
    "Data_137/data_1_23_40_66": 20,
    "Data_137/data_2_24_40_33": 20,
    "Data_137/data_4_23_59_33": 20,
    "Data_137/data_8_48_85_33": 40,
    "Data_100/data_0001_0062_0071_025": 29,
    "Data_100/data_0002_0080_0105_025": 33,
    "Data_100/data_0003_0082_0093_025": 31,
    "Data_100/data_0004_0078_0086_025": 29,
    "Data_100/data_0007_0076_0094_025": 29,
    "Data_100/data_0010_0072_0095_025": 28,
}


@pytest.mark.parametrize(("name", "fewest"), PROVED.items())
def test_that_the_proved_number_of_workers_does_all_and_one_fewer_does_not(name: str, fewest: int) -> None:
    """The files have no licence to be kept here; README.md says where to have them."""
    folder, file = name.split("/")
    roster = read(local(folder) / f"{file}.dat")
    workers = roster.fewest()
    assert len(workers) == fewest
    assert roster.unserved(workers) == 0
    assert all(roster.unserved([w for w in workers if w != gone]) > 0 for gone in workers[:5])
    apart = mutually_impossible(roster)
    assert len(apart) <= fewest  # no worker does two of them
    assert roster.unserved(workers[: len(apart) - 1]) > 0


def mutually_impossible(roster: Roster) -> list[int]:
    """Tasks of which no worker can do two, chosen greedily: so many workers are needed whoever they are."""
    chosen: list[int] = []
    by_freedom: Sequence[int] = sorted(
        range(len(roster.tasks)), key=lambda n: sum(roster.can_share(n, other) for other in range(len(roster.tasks)))
    )
    for task in by_freedom:
        if not any(roster.can_share(task, other) for other in chosen):
            chosen.append(task)
    return chosen
