"""The objectives of an allocation, as expressions over the columns of its network."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from hashlib import blake2b
from itertools import islice
from math import inf

from picklist.sets.allocation.network import KeptReady, Network
from picklist.sets.allocation.program import Expression
from picklist.sets.allocation.terms import Grade, Job, NextFreeSet
from picklist.sets.allocation.waits import by_case, never_minutes, of_use, possible_comings

_LOTS = 1_000_000
_Bound = tuple[int, float, int, int]  # from, until, column, effect


@dataclass(frozen=True, slots=True, kw_only=True)
class LateColumns:
    """Minutes late of the unserved as a cost; ``cut`` are columns that stand for releases left out."""

    cost: Expression
    cut: tuple[int, ...]


def serving_levels(network: Network) -> list[Expression]:
    """The levels down to the stand-ins, all to be made least.

    Weight and number of the jobs that are opened, of those on hold, close calls, sets that stay on built carts,
    stand-ins by number and by preference.
    """
    opened = [job for job in network.question.jobs if not job.on_hold]
    held = [job for job in network.question.jobs if job.on_hold]
    close = {link.column: 1 for link in network.links if link.grade is not Grade.CLEAN}
    options = [
        (network.serve[job.key, option.kind], option)
        for job in network.question.jobs
        for option in job.options
        if (job.key, option.kind) in network.serve
    ]
    return [
        _weight(network, opened),
        _number(network, opened),
        _weight(network, held),
        _number(network, held),
        close,
        {link.column: -1 for link in network.links if network.stays(link)},
        {column: 1 for column, option in options if option.preference},
        {column: option.preference for column, option in options if option.preference},
    ]


def lower_levels(network: Network) -> list[Expression]:
    """What counts once it is settled who is served: who stands in, depth under the floors, minutes to be saved."""
    return [_early_match(network), _under(network), _close_minutes(network)]


def _early_match(network: Network) -> Expression:
    """Stand-ins weighed by claim, so that they go to the cases that would give way on a tie."""
    claims = {job.key: len(network.question.jobs) - at for at, job in enumerate(network.question.in_order_of_claim())}
    return {
        network.serve[job.key, option.kind]: option.preference * claims[job.key]
        for job in network.question.jobs
        for option in job.options
        if option.preference and (job.key, option.kind) in network.serve
    }


def _close_minutes(network: Network) -> dict[int, int]:
    """Minutes late by usual minutes of what is rushed or counted on unopened."""
    return {
        link.column: -link.slack for link in network.links if link.grade is not Grade.CLEAN and link.slack is not None
    }


def tight_level(network: Network) -> Expression:
    """Minutes that clean reuses lack to the margin."""
    margin = network.question.margin
    return {
        link.column: margin - link.slack
        for link in network.links
        if link.grade is Grade.CLEAN and link.slack is not None and link.slack < margin
    }


def lots_level(network: Network) -> Expression:
    """The lots of what an answer is made of: which kind serves a job, what its set had before, and where a set waits.

    They are drawn from names alone: the same whatever else is asked, and in whatever order. With a million of them
    two answers to one question hardly ever have the same sum.
    """
    ids = [batch.ids[0] for batch in network.batches]
    level = {column: _lot(job, kind) for (job, kind), column in network.serve.items()}
    for link in network.links:
        source = link.source if isinstance(link.source, str) else ids[link.source]
        level[link.column] = _lot(source, link.was, link.job.key, link.kind)
    if len({place for _, place in network.users}) > 1:
        level |= {column: _lot(*names) for names, column in network.out.items()}
        level |= {column: _lot(ids[number], place) for (number, place), column in network.start.items()}
    return level


def _lot(*names: str) -> int:
    return 1 + int.from_bytes(blake2b("|".join(names).encode(), digest_size=8).digest()) % _LOTS


def _number(network: Network, jobs: Sequence[Job]) -> Expression:
    return {column: -1 for job in jobs for column in network.serving(job)}


def _weight(network: Network, jobs: Sequence[Job]) -> Expression:
    groups: defaultdict[str, list[Job]] = defaultdict(list)
    for job in jobs:
        groups[job.group or job.key].append(job)
    level: dict[int, int] = {}
    for group in groups.values():
        if len(group) == 1:
            level |= dict.fromkeys(network.serving(group[0]), -group[0].weight)
            continue
        whole = network.program.column(whole=True)
        for job in group:
            network.program.at_most({whole: 1.0} | dict.fromkeys(network.serving(job), -1.0), 0)
        level[whole] = -group[0].weight
    return level


def _under(network: Network) -> Expression:
    level: dict[int, int] = {}
    for _, kept in floors_of(network):
        depth = network.program.column(float(len(network.question.copies)), whole=True)
        level[depth] = 1
        network.program.at_most({depth: -1.0, **kept.bound}, kept.most)
    return level


def floors_of(network: Network) -> list[tuple[Job, KeptReady]]:
    """For each pool with a floor and each job that it may serve how many sets are bound when the job needs its own."""
    if not network.floors and any(network.question.floors.values()):
        network.floors += _floors(network)
    return network.floors


def _floors(network: Network) -> Iterator[tuple[Job, KeptReady]]:
    question = network.question
    for pool, floor in sorted(question.floors.items()):
        if floor:
            kinds = frozenset(kind for kind, named in question.pools.items() if named == pool)
            spans, copies = _bound(network, kinds), [copy for copy in question.copies if copy.kind in kinds]
            for job in question.jobs:
                if any((job.key, kind) in network.serve for kind in kinds):
                    standing = sum(copy.stands(job) for copy in copies)
                    bound: Counter[int] = Counter()
                    for begins, ends, column, effect in spans:
                        if begins <= job.need < ends:
                            bound[column] += effect
                    yield job, KeptReady(kinds=kinds, bound=bound, most=max(0, standing - floor))


def _bound(network: Network, kinds: frozenset[str]) -> list[_Bound]:
    """When sets are in use or on their way back, and the columns for it; one passed on in a rush is counted once."""
    found = [
        (other.need, _forever(other.home_at(kind)), network.serve[other.key, kind], 1)
        for other in network.question.jobs
        for kind in kinds & set(other.back)
        if (other.key, kind) in network.serve
    ]
    late = [link for link in network.links if link.grade is not Grade.CLEAN and link.kind in kinds]
    return found + [(link.job.need, link.home, link.column, -1) for link in late]


def _forever(minute: int | None) -> float:
    return inf if minute is None else minute


def add_late_columns(network: Network, depth: int) -> LateColumns:
    """For the unserved jobs of each case the soonest comings after their need, among ``depth`` candidates."""
    cost: dict[int, int] = {}
    cut: list[int] = []
    for jobs in by_case(network.question):
        _add_late(network, jobs, depth, cost, cut)
    return LateColumns(cost=cost, cut=tuple(cut))


def _add_late(network: Network, jobs: list[Job], depth: int, cost: dict[int, int], cut: list[int]) -> None:
    """Each coming for one job at most, and of a kind no more than the case has not got.

    Where the ways of sets are explicit, each set comes once for a case: else one that comes free twice may count twice.
    """
    program = network.program
    possible = possible_comings(network.question, jobs)
    usable = of_use(jobs, possible)
    usable = _up_to_a_sure_one(network, usable, jobs[0]) if len(jobs) == 1 else usable
    comings = list(islice(usable, depth + 1))
    first_takers: defaultdict[int, list[int]] = defaultdict(list)
    later_takers: defaultdict[str, list[int]] = defaultdict(list)
    choices = {job.key: dict.fromkeys(network.serving(job), 1.0) for job in jobs}
    chosen: defaultdict[str, list[int]] = defaultdict(list)
    for coming in comings[:depth]:
        takers = {program.column(): job for job in jobs if job.takes(coming.kind, coming.minutes)}
        source = {network.serve[coming.after, coming.kind]: -1.0} if coming.after else {}
        gone = _passed_on(network, coming.after, coming.kind, jobs[0].need) if coming.after else {}
        program.at_most(dict.fromkeys(takers, 1.0) | source | gone, 0 if source else 1)
        if not coming.after:
            first_takers[network.batch_of(coming.copy)] += takers
        else:
            later_takers[coming.after] += takers
        chosen[network.question.lasting(coming.kind)] += takers
        for column, job in takers.items():
            cost[column] = coming.minutes
            choices[job.key][column] = 1.0
    for choice in choices.values():
        rest = program.column()
        choice[rest] = 1.0
        if len(comings) > depth:
            cut.append(rest)
        cost[rest] = comings[depth].minutes if len(comings) > depth else never_minutes(possible)
        program.row(choice, 1, 1)
    left = _left_to_come(network, jobs, later_takers) if network.explicit and len(jobs) > 1 else {}
    for number, columns in first_takers.items():
        batch = network.batches[number]
        gone = _passed_on(network, number, batch.kind, jobs[0].need)
        program.at_most(dict.fromkeys(columns, 1.0) | gone | left.get(number, {}), len(batch.ids))
    if len(jobs) > 1:
        _limit_to_others(network, jobs, chosen)


def _left_to_come(
    network: Network, jobs: list[Job], takers: Mapping[str, list[int]]
) -> defaultdict[int, dict[int, float]]:
    """Each set comes for a case once, on its way through all jobs, and not at all when the case itself has it.

    By job a column says how often its set comes from there on; for each batch those of sets that go on after the
    need, as columns that count against the first readiness of the batch.
    """
    program, own, need = network.program, {job.key for job in jobs}, jobs[0].need
    comes = {job.key: program.column(0.0 if job.key in own else 1.0) for job in network.question.jobs}
    for key, column in comes.items():
        program.at_most(dict.fromkeys(takers.get(key, ()), 1.0) | {column: -1.0}, 0)
    left: defaultdict[int, dict[int, float]] = defaultdict(dict)
    for link in network.links:
        source, onward = link.source, comes[link.job.key]
        if isinstance(source, str):
            mine = dict.fromkeys(takers.get(source, ()), 1.0)
            program.at_most(mine | {onward: 1.0, link.column: 1.0, comes[source]: -1.0}, 1)
        elif link.job.need > need:
            started = program.column()
            program.at_most({onward: 1.0, link.column: 1.0, started: -1.0}, 1)
            left[source][started] = 1.0
    return left


def _passed_on(network: Network, source: str | int, was: str, need: int) -> dict[int, float]:
    """The columns that say that a set went on in a rush or unopened, so that it is not free when its route ends."""
    return {link.column: 1.0 for link in network.passed_on.get((source, was), ()) if link.job.need <= need}


def _limit_to_others(network: Network, jobs: list[Job], chosen: Mapping[str, list[int]]) -> None:
    """Of a kind no more comings than sets that the jobs of the case are not given."""
    lasting = network.question.lasting
    for kind, columns in chosen.items():
        served = [(job.key, one) for job in jobs for one in job.kinds() if lasting(one) == kind]
        mine = [network.serve[pair] for pair in served if pair in network.serve]
        sets = sum(lasting(copy.kind) == kind for copy in network.question.copies)
        network.program.at_most(dict.fromkeys([*columns, *mine], 1.0), sets)


def _up_to_a_sure_one(network: Network, comings: Iterable[NextFreeSet], job: Job) -> Iterator[NextFreeSet]:
    """Nothing is waited for that comes after a set that is ready for the first time and cannot go before that."""
    for one in comings:
        yield one
        if not one.after and not _passed_on(network, network.batch_of(one.copy), one.kind, job.need):
            return
