"""Solve a contested question: an integer program, solved to proven optimality one objective after the other."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from typing import Protocol

from picklist.sets.allocation.levels import add_late_columns, lots_level, lower_levels, serving_levels, tight_level
from picklist.sets.allocation.network import Network, make_network
from picklist.sets.allocation.paths import read_paths
from picklist.sets.allocation.program import Expression, value_of
from picklist.sets.allocation.terms import AllocationQuestion, GivenSet, Grade, Job, Level
from picklist.sets.allocation.waits import least_late

_FIRST_DEPTH = 12


class StoppedError(Exception):
    """A judge stopped the work on a question: its answer is of no use to it."""


class Judge(Protocol):
    """Says on the way whether an answer can still be of use to whom only its conflicts matter."""

    def network_of(self, question: AllocationQuestion) -> Network | None:
        """The network of a question where it has been made already."""

    def served_of(self, question: AllocationQuestion) -> list[int] | None:
        """The best values of a question's serving levels where they have been found already."""

    def allows_lack(self, jobs: Collection[Job]) -> bool:
        """Whether these jobs may go without, as they do in the answer."""

    def allows_some(self, network: Network) -> bool:
        """Whether an allocation that is left in the network may be the answer."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stage:
    """A network with its objectives; ``cut`` are its late columns that stand for releases left out."""

    network: Network
    serving: list[Expression]
    late: Expression
    lower: list[Expression]
    cut: tuple[int, ...]

    @property
    def upper(self) -> list[Expression]:
        """What counts before it is settled who is served: the serving levels, then lateness."""
        return [*self.serving, self.late]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Best:
    """What is settled: the values of the levels, how many releases were looked at, and who is served.

    ``explicit``: whether the ways of sets are told apart. ``lacking``: how many jobs go without.
    """

    depth: int
    upper: list[int]
    served: frozenset[str]
    lower: list[int]
    explicit: bool
    lacking: int

    @property
    def has_one_meaning(self) -> bool:
        """Whether the conflicts are settled but for slack: no rush, nothing under a floor, at most one job waits."""
        close, under = self.upper[4], self.lower[1]
        return not close and not under and self.lacking <= 1


def solve_exactly(question: AllocationQuestion, judge: Judge | None = None) -> tuple[GivenSet, ...]:
    """The sets given in the best allocation by every level of ``terms.Level`` but the printed lists.

    Over shelves one set that comes free twice may count for two that a case lacks: then the lateness found is less
    than that of the sets given, and the question is solved again with the ways of sets told apart.
    With a judge slack beyond the margin is not made greater where no conflict depends on it. Raises StoppedError
    where the judge allows no answer.
    """
    given, late = _solve(question, judge, explicit=False)
    return given if late == least_late(question, given) else _solve(question, judge, explicit=True)[0]


def best_by_levels(question: AllocationQuestion) -> Iterator[tuple[Level, tuple[GivenSet, ...]]]:
    """A best allocation by the levels up to ``EXACT`` alone, then one by those up to ``LATE``, each with that level.

    Much quicker than ``solve_exactly``, whose answer is worth the same by them. The second is left out where it would
    not be certain.
    """
    plain = make_network(question)
    stage = _with_levels(plain.copy(), 0)
    found = stage.network.program.minimise_in_order(stage.serving)
    if found is None:
        return
    given = read_paths(stage.network, found[1])
    yield Level.EXACT, given
    if len(given) < len(question.jobs):
        _, stage, late = _least_late(plain, found[0])
        if late is not None and late[0][-1] == least_late(question, given := read_paths(stage.network, late[1])):
            yield Level.LATE, given


def _solve(question: AllocationQuestion, judge: Judge | None, *, explicit: bool) -> tuple[tuple[GivenSet, ...], int]:
    """The sets given and the lateness as the program counts it."""
    plain = (judge.network_of(question) if judge else None) or make_network(question)
    best = judge.served_of(question) if judge else None
    stage, solution, depth = None, list[float](), 0
    if best is None or _serves_all(question, best):
        stage = _with_levels(plain.copy(), 0)
        found = stage.network.program.minimise_in_order(stage.serving)
        if found is None:
            return (), 0
        best, solution = found
    values = [*best, 0]
    if stage is None or not _serves_all(question, best):
        plain = make_network(question, explicit=True) if explicit else plain
        depth, stage, late = _least_late(plain, best)
        if late is None:
            return (), 0
        values, solution = [*best, *late[0]], late[1]
        solution = _break_ties(stage.network, solution)
    lacking = [job for job in question.jobs if not _is_served(stage.network, solution, job)]
    served = frozenset(job.key for job in question.jobs) - {job.key for job in lacking}
    if judge and not (explicit or values[-1] == least_late(question, read_paths(stage.network, solution))):
        judge = None  # another question will say who goes without
    if judge and not judge.allows_lack(lacking):
        raise StoppedError
    _settle(stage.network, served)
    lower = stage.network.program.minimise_in_order(stage.lower)
    if lower is None:
        return (), 0
    settled = _Best(depth=depth, upper=values, served=served, lower=lower[0], explicit=explicit, lacking=len(lacking))
    return _widest(stage, settled, lower[1], judge), values[-1]


def _serves_all(question: AllocationQuestion, values: list[int]) -> bool:
    """Whether every job is served at these values of the serving levels."""
    return -(values[1] + values[3]) == len(question.jobs)


def _with_levels(network: Network, depth: int) -> _Stage:
    """A network that nothing was added to, with its objectives."""
    late: Expression = {}
    cut: tuple[int, ...] = ()
    if depth:
        columns = add_late_columns(network, depth)
        late, cut = columns.cost, columns.cut
    return _Stage(network=network, serving=serving_levels(network), late=late, lower=lower_levels(network), cut=cut)


def _least_late(plain: Network, values: list[int]) -> tuple[int, _Stage, tuple[list[int], list[float]] | None]:
    """Least lateness at the served values; the candidates are widened until none that was left out matters."""
    depth = min(_FIRST_DEPTH, 2 * len(plain.question.jobs))
    while True:
        stage = _with_levels(plain.copy(), depth)
        for level, value in zip(stage.serving, values, strict=True):
            stage.network.program.hold(level, value)
        found = stage.network.program.minimise_in_order([stage.late])
        if found is None or not any(found[1][column] > 0.5 for column in stage.cut):
            return depth, stage, found
        depth *= 2


def _is_served(network: Network, solution: list[float], job: Job) -> bool:
    return sum(solution[column] for column in network.serving(job)) > 0.5


def _settle(network: Network, served: Collection[str]) -> None:
    """From now on those jobs are served, and no others."""
    for job in network.question.jobs:
        columns = network.serving(job)
        if columns:
            network.program.row(dict.fromkeys(columns, 1.0), float(job.key in served), float(job.key in served))


def _widest(stage: _Stage, best: _Best, solution: list[float], judge: Judge | None) -> tuple[GivenSet, ...]:
    """The greatest smallest slack, then the least tightness, then the least lots."""
    question, given = stage.network.question, read_paths(stage.network, solution)
    low = _smallest(given)
    if judge:
        if best.has_one_meaning and (low is None or low >= question.margin):
            return given
        if not judge.allows_some(stage.network):
            raise StoppedError
    if low is not None and low < question.margin:
        given = read_paths(stage.network, _widen(stage.network, low, solution))
        low = _smallest(given)
    if low is None or low >= question.margin:
        least = _beyond_all_slack(question, 0) if low is None else _greatest_slack(question, best, low)
        stage = _held(question, best, least)
    tight = tight_level(stage.network)
    found = stage.network.program.minimise_in_order([*([tight] if tight else []), lots_level(stage.network)])
    return read_paths(stage.network, found[1]) if found else given


def _widen(network: Network, low: int, solution: list[float]) -> list[float]:
    """The greatest smallest slack up to the margin: close links are given up from the closest on."""
    margin = network.question.margin
    close = [
        (link.slack, link.column) for link in network.links if link.grade is Grade.CLEAN and link.slack is not None
    ]
    network.program.hold({column: 1 for slack, column in close if slack < low}, 0)
    steps = sorted({slack for slack, _ in close if low < slack < margin} | {margin})
    at, end = 0, len(steps)
    while at < end:
        middle = (at + end) // 2
        closer = {column: 1 for slack, column in close if slack < steps[middle]}
        tried = network.program.solve(closer)
        if tried is not None and value_of(closer, tried) == 0:
            network.program.hold(closer, 0)
            solution, at = tried, middle + 1
        else:
            end = middle
    return solution


def _smallest(given: tuple[GivenSet, ...]) -> int | None:
    return min((one.slack for one in given if one.grade is Grade.CLEAN and one.slack is not None), default=None)


def _held(question: AllocationQuestion, best: _Best, least_slack: int) -> _Stage:
    stage = _with_levels(make_network(question, least_slack, explicit=best.explicit), best.depth)
    for level, value in zip([*stage.upper, *stage.lower], [*best.upper, *best.lower], strict=True):
        stage.network.program.hold(level, value)
    _settle(stage.network, best.served)
    return stage


def _greatest_slack(question: AllocationQuestion, best: _Best, low: int) -> int:
    """Doubling, then halving: the greatest minute, beyond the margin, for which the earlier objectives still hold."""
    high, step = low + 1, 1
    bound = _beyond_all_slack(question, low)
    while high <= bound:
        reached = _reach(question, best, high)
        if reached is None:
            break
        low, step = max(high, reached), step * 2
        high = low + step
    high = min(high, bound + 1)
    while low + 1 < high:
        middle = (low + high) // 2
        reached = _reach(question, best, middle)
        if reached is None:
            high = middle
        else:
            low = max(middle, min(reached, high - 1))
    return low


def _beyond_all_slack(question: AllocationQuestion, low: int) -> int:
    """More than the slack that any reuse can have; with so much asked for, nothing may have slack to lose."""
    longest = max(job.need for job in question.jobs) - min(job.need for job in question.jobs)
    return max(longest, low) + max((copy_wait(question, job) for job in question.jobs), default=0) + 1


def copy_wait(question: AllocationQuestion, job: Job) -> int:
    """The longest a set that is not there yet could stand idle before the job."""
    ready = [copy.ready_for(job) for copy in question.copies]
    return max((job.need - one.usual for one in ready if one is not None and one.waits), default=0)


def _reach(question: AllocationQuestion, best: _Best, least_slack: int) -> int | None:
    stage = _held(question, best, least_slack)
    solution = stage.network.program.solve({})
    if solution is None:
        return None
    smallest = _smallest(read_paths(stage.network, solution))
    return least_slack if smallest is None else smallest


def _break_ties(network: Network, solution: list[float]) -> list[float]:
    """The earlier (or later) start keeps its set, one job after the other."""
    question, program = network.question, network.program
    kept = {column: round(solution[column]) for job in question.jobs for column in network.serving(job)}
    other = program.solve({column: 1 for column, value in kept.items() if value})
    # As many are served in every best allocation: one that shares all of them with this one serves the same jobs.
    if other is None or sum(other[column] for column, value in kept.items() if value) > sum(kept.values()) - 0.5:
        return solution
    for job in question.in_order_of_claim():
        wish = dict.fromkeys(network.serving(job), -1)
        if not wish:
            continue
        if sum(solution[column] for column in wish) < 0.5:
            solution = program.solve(wish) or solution
        if sum(solution[column] for column in wish) > 0.5:
            program.hold(wish, -1)
    return solution
