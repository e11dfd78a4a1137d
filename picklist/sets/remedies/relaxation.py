"""Rule out changes by the linear relaxation: no allocation, not even a fractional one, removes the conflict.

What must hold after a change is asked of its best ways to serve. Only what stands this is allocated in full.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from picklist.sets.allocation.levels import floors_of, serving_levels
from picklist.sets.allocation.network import Link, Network, make_network
from picklist.sets.allocation.program import Bounds, Expression, digest
from picklist.sets.allocation.quick import serve_all
from picklist.sets.allocation.solve import cut, split
from picklist.sets.allocation.terms import AllocationQuestion, Grade, Job
from picklist.sets.remedies.quick_check import FINE, RUSHED, SHORT, TIGHT, UNOPENED, Allowed

_GRADES = {Grade.RUSH: RUSHED, Grade.UNOPENED: UNOPENED}
_NEARLY = 1e-6


def has_several(question: AllocationQuestion) -> bool:
    """Whether a case wants several sets of one tray."""
    return len({job.group for job in question.jobs}) < len(question.jobs)


class ServedNetwork(NamedTuple):
    """A network, ``plain`` and with the levels that say how well it serves; what its floors ask; all its numbers."""

    plain: Network
    network: Network
    levels: list[Expression]
    floors: list[_Floor]
    numbers: bytes


class _Floor(NamedTuple):
    """What may be left under a floor at the need of a job: a row of columns, and its most with nothing allowed."""

    job: Job
    row: Mapping[int, float]
    most: float


_MOST_BOUNDS = 2  # kept at a time; more take much memory and save no time


class BestServed:
    """Rules out changes by who is served best: no allocation that serves as well keeps the limits.

    Most changes leave the numbers of a question as they were, all but their names and the minutes to spare; what
    came of such numbers once is remembered.
    """

    def __init__(self) -> None:
        self._bounds: dict[bytes, Bounds] = {}
        self._values: dict[bytes, list[int] | None] = {}
        self._broken: dict[tuple[bytes, bool, bytes], bool] = {}

    def networks(self, question: AllocationQuestion) -> list[ServedNetwork]:
        """The networks of the parts of a question that are not served by going through them in order."""
        parts = (part for part in split(question) if serve_all(part) is None and len(cut(part)) == 1)
        return [_served_network(make_network(part)) for part in parts]

    def all_break(self, networks: Iterable[ServedNetwork], limits: Allowed) -> bool:
        """Whether every allocation, however badly it serves, breaks a limit."""
        return any(self._breaks(one, _amiss(one, limits, ()), held=False) for one in networks)

    def rule_out(self, networks: Iterable[ServedNetwork], limits: Allowed, touched: Collection[str]) -> bool:
        """Whether every best way to serve breaks a limit or leaves a touched case without its sets."""
        return any(self._breaks(one, _amiss(one, limits, touched), held=True) for one in networks)

    def values(self, one: ServedNetwork) -> list[int] | None:
        """The best values of the levels down to the stand-ins; None where nothing meets all rows."""
        if one.numbers not in self._values:
            self._values[one.numbers] = self._bounds_of(one).best()
        return self._values[one.numbers]

    def _breaks(self, one: ServedNetwork, amiss: _Amiss, *, held: bool) -> bool:
        key = (one.numbers, held, digest((list(amiss.costs.items()), amiss.must, amiss.most)))
        if key not in self._broken:
            values = self.values(one) if held else []
            self._broken[key] = values is not None and _misses(self._bounds_of(one), amiss, values)
        return self._broken[key]

    def _bounds_of(self, one: ServedNetwork) -> Bounds:
        found = self._bounds.pop(one.numbers, None)
        if found is None:
            found = Bounds(one.network.program, [floor.row for floor in one.floors], one.levels)
        if len(self._bounds) == _MOST_BOUNDS:
            del self._bounds[next(iter(self._bounds))]
        self._bounds[one.numbers] = found
        return found


def _served_network(plain: Network) -> ServedNetwork:
    network = plain.copy()
    levels, floors = serving_levels(network), _floors(plain)
    numbers = network.program.numbers(*levels, *(floor.row for floor in floors))
    return ServedNetwork(plain=plain, network=network, levels=levels, floors=floors, numbers=numbers)


def _floors(network: Network) -> list[_Floor]:
    """A job that has a set of a pool leaves no more under its floor than it may."""
    whole, found = len(network.question.copies), []
    for job, kept in floors_of(network):
        row = Counter(kept.bound)
        for kind in kept.kinds:
            if (job.key, kind) in network.serve:
                row[network.serve[job.key, kind]] += whole
        found.append(_Floor(job, row, kept.most + whole))
    return found


@dataclass(slots=True, kw_only=True)
class LimitsJudge:
    """Judges an allocation in the making by what may be left of the conflicts; see ``exact.Judge``.

    ``lacking`` are jobs that go without, as far as it was told; ``refuses_all``: whether not even ``at_all``, what may
    be left whatever it is that a change is to remove, would have allowed it.
    """

    best_served: BestServed
    networks: Collection[ServedNetwork]
    limits: Allowed
    at_all: Allowed
    touched: Collection[str]
    lacking: list[Job] = field(default_factory=list)
    refuses_all: bool = False

    def network_of(self, question: AllocationQuestion) -> Network | None:
        """The network that a bound was asked of, with nothing added."""
        one = self._asked_of(question)
        return one.plain if one else None

    def served_of(self, question: AllocationQuestion) -> list[int] | None:
        """The best values that a bound was asked of."""
        one = self._asked_of(question)
        return self.best_served.values(one) if one else None

    def _asked_of(self, question: AllocationQuestion) -> ServedNetwork | None:
        return next((one for one in self.networks if one.plain.question == question), None)

    def allows_lack(self, jobs: Collection[Job]) -> bool:
        """Whether each of the jobs may go without."""
        self.lacking += jobs
        self.refuses_all = not may_lack(jobs, self.at_all, self.touched)
        return not self.refuses_all and may_lack(jobs, self.limits, self.touched)

    def allows_some(self, network: Network) -> bool:
        """Whether the linear relaxation holds something that keeps the limits."""
        floors = _floors(network)
        one = ServedNetwork(network, network, [], floors, b"")
        bounds = Bounds(network.program, [floor.row for floor in floors])
        if not _misses(bounds, _amiss(one, self.limits, self.touched)):
            return True
        self.refuses_all = _misses(bounds, _amiss(one, self.at_all, self.touched))
        return False


def may_lack(jobs: Iterable[Job], limits: Allowed, touched: Collection[str]) -> bool:
    """Whether jobs may go without a set."""
    return all(limits.level(job.key, job.case, touched) == SHORT for job in jobs)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Amiss:
    """What must not happen: costs of one, with gains for the ``must`` jobs to be served, and the most of each floor."""

    costs: Counter[int]
    must: int
    most: list[float]


def _misses(bounds: Bounds, amiss: _Amiss, values: list[int] | None = None) -> bool:
    least = bounds.least(amiss.costs, amiss.most, values or ())
    return least is None or least > _NEARLY - amiss.must


def _amiss(one: ServedNetwork, limits: Allowed, touched: Collection[str]) -> _Amiss:
    network, question = one.network, one.network.question
    level = {job.key: limits.level(job.key, job.case, touched) for job in question.jobs}
    costs: Counter[int] = Counter()
    for link in network.links:
        if _is_amiss(link, question.margin, level[link.job.key], limits):
            costs[link.column] += 1
    must = [job for job in question.jobs if level[job.key] < SHORT]
    for job in must:
        costs.subtract(network.serving(job))
    most = [floor.most + limits.under.get(floor.job.key, 0) for floor in one.floors]
    return _Amiss(costs=costs, must=len(must), most=most)


def _is_amiss(link: Link, margin: int, allowed: int, limits: Allowed) -> bool:
    is_tight = link.slack is not None and link.slack < margin
    grade = _GRADES.get(link.grade, TIGHT if is_tight else FINE)
    if grade == FINE or link.slack is None:
        return False
    least = limits.slack.get(link.job.key)
    return grade > allowed or (grade == allowed and least is not None and link.slack < least)
