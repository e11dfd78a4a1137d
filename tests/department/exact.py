"""The least lateness that any schedule can have: a time-indexed model of batch machines, solved by HiGHS.

Independent of the forward run: it knows jobs, stations and loads, and nothing of rules or events.
For jobs whose steps follow each other at stations that always work; steps of one station and
cycle take equally long; all minutes are multiples of ``slot``.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import highspy
import numpy as np

from picklist.department.run_terms import DepartmentJob
from picklist.model.routes import Station
from tests.patience import PATIENCE

Key = tuple[int, int, int]  # job, step, slot


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """``best`` lateness found, a proven ``bound`` below which none can be, in minutes; equal when proven optimal."""

    best: float
    bound: float


@dataclass(slots=True)
class Model:
    """Rows and columns as they are collected for the solver."""

    costs: list[float] = field(default_factory=list)
    upper: list[float] = field(default_factory=list)
    whole: list[bool] = field(default_factory=list)
    lows: list[float] = field(default_factory=list)
    highs: list[float] = field(default_factory=list)
    starts: list[int] = field(default_factory=list)
    index: list[int] = field(default_factory=list)
    values: list[float] = field(default_factory=list)

    def column(self, cost: float, upper: float, whole: bool = True) -> int:
        self.costs.append(cost)
        self.upper.append(upper)
        self.whole.append(whole)
        return len(self.costs) - 1

    def row(self, low: float, high: float, terms: Mapping[int, float]) -> None:
        self.starts.append(len(self.index))
        self.lows.append(low)
        self.highs.append(high)
        self.index.extend(terms)
        self.values.extend(terms.values())


def least_lateness(
    jobs: Sequence[DepartmentJob],
    stations: Sequence[Station],
    *,
    slot: int,
    known: int,
    total: bool = False,
    seconds: float = PATIENCE,
) -> Answer:
    """The least greatest lateness (or least ``total`` lateness) in minutes.

    ``known`` is the lateness of a schedule at hand: no job of a better one ends later than its
    due time plus that, which keeps the model small. When nothing better exists, ``known`` is best.
    """
    model, starts = _columns(jobs, slot, known, total)
    _each_step_once_and_in_order(model, jobs, starts, slot)
    _machines(model, jobs, {s.id: s for s in stations}, starts, slot)
    if not total:
        _greatest(model, jobs, starts, slot)
    return _solve(model, known, slot, seconds)


def _columns(jobs: Sequence[DepartmentJob], slot: int, known: int, total: bool) -> tuple[Model, dict[Key, int]]:
    model = Model()
    starts: dict[Key, int] = {}
    for j, job in enumerate(jobs):
        assert job.due is not None
        head = job.released // slot
        tail = sum(step.minutes for step in job.steps) // slot
        last = (job.due + known) // slot
        for s, step in enumerate(job.steps):
            for t in range(head, last - tail + 1):
                late = max(0, t + step.minutes // slot - job.due // slot) if total and s == len(job.steps) - 1 else 0
                starts[j, s, t] = model.column(late, 1)
            head += step.minutes // slot
            tail -= step.minutes // slot
    return model, starts


def _by_step(starts: Mapping[Key, int]) -> dict[tuple[int, int], dict[int, int]]:
    found: dict[tuple[int, int], dict[int, int]] = defaultdict(dict)
    for (j, s, t), column in starts.items():
        found[j, s][t] = column
    return found


def _each_step_once_and_in_order(
    model: Model, jobs: Sequence[DepartmentJob], starts: Mapping[Key, int], slot: int
) -> None:
    by_step = _by_step(starts)
    for j, job in enumerate(jobs):
        for s in range(len(job.steps)):
            model.row(1, 1, dict.fromkeys(by_step[j, s].values(), 1.0))
            if not s:
                continue
            length = job.steps[s - 1].minutes // slot
            for t in by_step[j, s]:
                started = {column: 1.0 for at, column in by_step[j, s].items() if at <= t}
                over = {column: -1.0 for at, column in by_step[j, s - 1].items() if at + length <= t}
                model.row(-np.inf, 0, started | over)


def _machines(
    model: Model, jobs: Sequence[DepartmentJob], stations: Mapping[str, Station], starts: Mapping[Key, int], slot: int
) -> None:
    loads: dict[str, dict[tuple[int, str], int]] = defaultdict(dict)
    length: dict[tuple[str, str], int] = {}
    members: dict[tuple[str, str, int], list[int]] = defaultdict(list)
    for (j, s, t), column in starts.items():
        step = jobs[j].steps[s]
        members[step.station, step.cycle, t].append(column)
        assert length.setdefault((step.station, step.cycle), step.minutes // slot) == step.minutes // slot
    for (station, cycle, t), columns in members.items():
        load = model.column(0, stations[station].machines)
        loads[station][t, cycle] = load
        model.row(-np.inf, 0, dict.fromkeys(columns, 1.0) | {load: -float(stations[station].per_load)})
    for station, started in loads.items():
        for now in sorted({t for t, _ in started}):
            busy = {load: 1.0 for (t, cycle), load in started.items() if t <= now < t + length[station, cycle]}
            model.row(-np.inf, stations[station].machines, busy)


def _greatest(model: Model, jobs: Sequence[DepartmentJob], starts: Mapping[Key, int], slot: int) -> None:
    worst = model.column(1, np.inf, whole=False)
    by_step = _by_step(starts)
    for j, job in enumerate(jobs):
        last = len(job.steps) - 1
        due = (job.due or 0) // slot
        ends = {column: float(t + job.steps[last].minutes // slot - due) for t, column in by_step[j, last].items()}
        model.row(-np.inf, 0, {**ends, worst: -1.0})


def _solve(model: Model, known: int, slot: int, seconds: float) -> Answer:
    solver = highspy.Highs()  # type: ignore[no-untyped-call]
    solver.setOptionValue("output_flag", False)
    solver.setOptionValue("time_limit", seconds)
    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = len(model.costs), len(model.lows)
    lp.col_cost_ = np.array(model.costs)
    lp.col_lower_ = np.array([0.0 if whole else -np.inf for whole in model.whole])
    lp.col_upper_ = np.array(model.upper)
    lp.row_lower_, lp.row_upper_ = np.array(model.lows), np.array(model.highs)
    lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    lp.a_matrix_.start_ = np.array([*model.starts, len(model.index)])
    lp.a_matrix_.index_ = np.array(model.index)
    lp.a_matrix_.value_ = np.array(model.values)
    kind = highspy.HighsVarType
    lp.integrality_ = [kind.kInteger if whole else kind.kContinuous for whole in model.whole]
    solver.passModel(lp)
    solver.run()
    if solver.getModelStatus() == highspy.HighsModelStatus.kInfeasible:
        return Answer(best=known, bound=known)
    info = solver.getInfo()
    best = (
        min(known, round(info.objective_function_value * slot)) if np.isfinite(info.objective_function_value) else known
    )
    return Answer(best=best, bound=min(best, info.mip_dual_bound * slot))
