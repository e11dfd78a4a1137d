"""What an allocation is judged by, as expressions over the columns of its network."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from picklist.sets.allocation.network import Network
from picklist.sets.allocation.program import Expression
from picklist.sets.allocation.terms import Copy, Grade, Job


@dataclass(frozen=True, slots=True, kw_only=True)
class LateColumns:
    """Minutes late of the unserved as a cost; ``cut`` are columns that stand for releases left out."""

    cost: Expression
    cut: tuple[int, ...]


def serving_levels(network: Network) -> list[Expression]:
    """Served weight, served jobs, rushes, unopened trays and depth under the floors, all to be made least."""
    served: dict[int, int] = {}
    for job in network.question.jobs:
        served |= dict.fromkeys(network.serving(job), -1)
    graded = {
        grade: {link.column: link.job.weight for link in network.links if link.grade is grade}
        for grade in (Grade.RUSH, Grade.UNOPENED)
    }
    return [_weight(network), served, graded[Grade.RUSH], graded[Grade.UNOPENED], _under(network)]


def stand_in_level(network: Network) -> Expression:
    """Sum of the preferences of the trays given."""
    return {
        network.serve[job.key, option.kind]: option.preference
        for job in network.question.jobs
        for option in job.options
        if option.preference and (job.key, option.kind) in network.serve
    }


def early_match_level(network: Network) -> Expression:
    """Stand-ins weighed by claim, so that they go to the cases that would give way on a tie."""
    claims = {job.key: len(network.question.jobs) - at for at, job in enumerate(network.question.in_order_of_claim())}
    return {
        network.serve[job.key, option.kind]: option.preference * claims[job.key]
        for job in network.question.jobs
        for option in job.options
        if option.preference and (job.key, option.kind) in network.serve
    }


def late_links(network: Network) -> dict[int, int]:
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


def _weight(network: Network) -> Expression:
    groups: defaultdict[str, list[Job]] = defaultdict(list)
    for job in network.question.jobs:
        groups[job.group or job.key].append(job)
    level: dict[int, int] = {}
    for jobs in groups.values():
        if len(jobs) == 1:
            level |= dict.fromkeys(network.serving(jobs[0]), -jobs[0].weight)
            continue
        whole = network.program.column(whole=True)
        for job in jobs:
            network.program.at_most({whole: 1.0} | dict.fromkeys(network.serving(job), -1.0), 0)
        level[whole] = -jobs[0].weight
    return level


def _under(network: Network) -> Expression:
    level: dict[int, int] = {}
    for pool, floor in sorted(network.question.floors.items()):
        if floor:
            for job in network.question.jobs:
                _watch_floor(network, pool, floor, job, level)
    return level


def _watch_floor(network: Network, pool: str, floor: int, job: Job, level: dict[int, int]) -> None:
    """A column for the depth under the pool's floor at the moment at which the job needs its set."""
    kinds = {kind for kind, named in network.question.pools.items() if named == pool}
    if not any((job.key, kind) in network.serve for kind in kinds):
        return
    depth = network.program.column(float(floor), whole=True)
    level[depth] = 1
    row = {depth: -1.0}
    for column, effect in _bound_at(network, kinds, job.need):
        row[column] = row.get(column, 0.0) + effect
    standing = sum(copy.kind in kinds and _stands(copy, job) for copy in network.question.copies)
    network.program.at_most(row, max(0, standing - floor))


def _bound_at(network: Network, kinds: set[str], minute: int) -> list[tuple[int, float]]:
    """Sets that are in use or on their way back then; one passed on in a rush is counted once."""
    found = [
        (network.serve[other.key, kind], 1.0)
        for other in network.question.jobs
        for kind in kinds & set(other.back)
        if (other.key, kind) in network.serve and other.binds(kind, minute)
    ]
    late = [link for link in network.links if link.grade is not Grade.CLEAN and link.kind in kinds]
    return found + [(link.column, -1.0) for link in late if link.job.need <= minute < link.ready]


def _stands(copy: Copy, job: Job) -> bool:
    ready = copy.ready_for(job)
    return ready is not None and ready.usual <= job.need


def add_late_columns(network: Network, depth: int) -> LateColumns:
    """For each unserved job the soonest release after its need, among ``depth`` candidates."""
    cost: dict[int, int] = {}
    cut: list[int] = []
    for job in network.question.jobs:
        _add_late(network, job, depth, cost, cut)
    return LateColumns(cost=cost, cut=tuple(cut))


def _add_late(network: Network, job: Job, depth: int, cost: dict[int, int], cut: list[int]) -> None:
    program = network.program
    releases, first = late_candidates(network, job)
    choice = dict.fromkeys(network.serving(job), 1.0)
    for minutes, column in releases[:depth]:
        chosen = program.column()
        program.at_most({chosen: 1.0, column: -1.0}, 0)
        cost[chosen] = minutes
        choice[chosen] = 1.0
    rest = program.column()
    choice[rest] = 1.0
    if len(releases) > depth:
        cut.append(rest)
        cost[rest] = releases[depth][0]
    elif first is not None:
        cost[rest] = first
    elif releases:
        cost[rest] = releases[-1][0] + 1
    program.row(choice, 1, 1)


def late_candidates(network: Network, job: Job) -> tuple[list[tuple[int, int]], int | None]:
    """Releases after the need (minutes late, serving column) before the first set that is only on its way."""
    kinds = {option.kind for option in job.options}
    coming = [copy.ready_for(job) for copy in network.question.copies if copy.kind in kinds]
    waits = [ready.usual - job.need for ready in coming if ready is not None and ready.usual > job.need]
    first = min(waits, default=None)
    releases = []
    for other in network.question.jobs:
        for kind in kinds & set(other.back):
            ready = other.back[kind].get(job.place)
            column = network.serve.get((other.key, kind))
            if ready is None or column is None or other.key == job.key:
                continue
            minutes = ready.usual - job.need
            if minutes > 0 and (first is None or minutes < first):
                releases.append((minutes, column))
    return sorted(releases), first
