"""The objectives of an allocation, as expressions over the columns of its network."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass

from picklist.sets.allocation.network import Network
from picklist.sets.allocation.program import Expression
from picklist.sets.allocation.terms import Grade, Job, NextFreeSet
from picklist.sets.allocation.waits import by_case, never_minutes, of_use, possible_comings


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
    depth = network.program.column(float(len(network.question.copies)), whole=True)
    level[depth] = 1
    row = {depth: -1.0}
    for column, effect in _bound_at(network, kinds, job.need):
        row[column] = row.get(column, 0.0) + effect
    standing = sum(copy.kind in kinds and copy.stands(job) for copy in network.question.copies)
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
    return found + [(link.column, -1.0) for link in late if link.job.need <= minute < link.home]


def add_late_columns(network: Network, depth: int) -> LateColumns:
    """For the unserved jobs of each case the soonest comings after their need, among ``depth`` candidates."""
    cost: dict[int, int] = {}
    cut: list[int] = []
    for jobs in by_case(network.question):
        _add_late(network, jobs, depth, cost, cut)
    return LateColumns(cost=cost, cut=tuple(cut))


def _add_late(network: Network, jobs: list[Job], depth: int, cost: dict[int, int], cut: list[int]) -> None:
    """Each coming for one job at most, and of a kind no more than the case has not got: see ``waits.least_late``."""
    program = network.program
    possible = possible_comings(network.question, jobs)
    comings = of_use(jobs, possible)
    comings = _up_to_a_sure_one(comings) if len(jobs) == 1 else comings
    choices = {job.key: dict.fromkeys(network.serving(job), 1.0) for job in jobs}
    chosen: defaultdict[str, list[int]] = defaultdict(list)
    for coming in comings[:depth]:
        takers = {program.column(): job for job in jobs if job.takes(coming.kind, coming.minutes)}
        source = {network.serve[coming.after, coming.kind]: -1.0} if coming.after else {}
        program.at_most(dict.fromkeys(takers, 1.0) | source, 0 if source else 1)
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
    if len(jobs) > 1:
        _limit_to_others(network, jobs, chosen)


def _limit_to_others(network: Network, jobs: list[Job], chosen: Mapping[str, list[int]]) -> None:
    """Of a kind no more comings than sets that the jobs of the case are not given."""
    lasting = network.question.lasting
    for kind, columns in chosen.items():
        served = [(job.key, one) for job in jobs for one in job.kinds() if lasting(one) == kind]
        mine = [network.serve[pair] for pair in served if pair in network.serve]
        sets = sum(lasting(copy.kind) == kind for copy in network.question.copies)
        network.program.at_most(dict.fromkeys([*columns, *mine], 1.0), sets)


def _up_to_a_sure_one(comings: list[NextFreeSet]) -> list[NextFreeSet]:
    """Nothing that comes after a set that is ready for the first time is ever waited for."""
    sure = next((at for at, one in enumerate(comings) if not one.after), len(comings))
    return comings[: sure + 1]
