"""Score an allocation from what was given alone, without the program that found it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from math import inf

from picklist.sets.allocation.terms import AllocationQuestion, GivenSet, Grade, Job, Level, Score
from picklist.sets.allocation.waits import least_late


def with_floors(question: AllocationQuestion, given: tuple[GivenSet, ...]) -> tuple[GivenSet, ...]:
    """The same with, for each, how far its pool falls under its floor when the set is taken."""
    if not any(question.floors.values()):
        return given
    jobs = {job.key: job for job in question.jobs}
    return tuple(
        replace(one, under=_depth(question, given, question.pools[one.kind], jobs[one.job], jobs)) for one in given
    )


def _all_depths(question: AllocationQuestion, given: tuple[GivenSet, ...], jobs: Mapping[str, Job]) -> int:
    """Sets under the floors, summed over the moments at which a job that a pool may serve needs its set."""
    owned = question.kinds()
    total = 0
    for job in question.jobs:
        pools = {question.pools[option.kind] for option in job.options if option.kind in owned}
        total += sum(_depth(question, given, pool, job, jobs) for pool in pools)
    return total


def _depth(
    question: AllocationQuestion, given: tuple[GivenSet, ...], pool: str, job: Job, jobs: Mapping[str, Job]
) -> int:
    floor = question.floors.get(pool, 0)
    if not floor:
        return 0
    here = [one for one in given if question.pools[one.kind] == pool and jobs[one.job].need <= job.need]
    bound = sum(jobs[one.job].binds(one.kind, job.need) for one in here)
    # A set that came late by usual minutes is counted once, at the job that it serves now.
    homes = _homes(question, given, jobs)
    bound -= sum(one.grade is not Grade.CLEAN and homes[one.job] > job.need for one in here)
    standing = sum(question.pools[copy.kind] == pool and copy.stands(job) for copy in question.copies)
    return max(0, bound - max(0, standing - floor))


def _homes(question: AllocationQuestion, given: Sequence[GivenSet], jobs: Mapping[str, Job]) -> dict[str, int]:
    """For each job that has a set when that set was ready for it, wherever that is."""
    kinds = {one.job: one.kind for one in given}
    copies = {copy.id: copy for copy in question.copies}
    found = {}
    for one in given:
        mine = jobs[one.job]
        home = jobs[one.after].home_at(kinds[one.after]) if one.after else copies[one.copy].home_at(mine)
        found[one.job] = mine.need - (one.slack or 0) if home is None else home
    return found


def score(question: AllocationQuestion, given: tuple[GivenSet, ...]) -> Score:
    """The allocation's value by every level."""
    served = {one.job for one in given}
    close = [one for one in given if one.grade is not Grade.CLEAN]
    slacks = [one.slack for one in given if one.grade is Grade.CLEAN and one.slack is not None]
    carts = {job.key: job.cart for job in question.jobs}
    claims = question.in_order_of_claim()
    rank = {job.key: len(claims) - at for at, job in enumerate(claims)}
    levels: dict[Level, tuple[float, ...]] = {
        Level.OPEN: _served(question, served, on_hold=False),
        Level.HELD: _served(question, served, on_hold=True),
        Level.CERTAIN: (len(close),),
        Level.BUILT: (-sum(one.stays_on(carts[one.job]) for one in given),),
        Level.EXACT: (sum(one.preference > 0 for one in given), sum(one.preference for one in given)),
        Level.LATE: (least_late(question, given),),
        Level.START: (
            *(job.key not in served for job in claims),
            sum(rank[one.job] * one.preference for one in given),
        ),
        Level.RESERVE: (_all_depths(question, given, {job.key: job for job in question.jobs}),),
        Level.SLACK: (
            -sum(one.slack or 0 for one in close),
            -min(slacks, default=inf),
            sum(max(0, question.margin - slack) for slack in slacks),
        ),
    }
    return Score(levels=levels)


def _served(question: AllocationQuestion, served: Collection[str], *, on_hold: bool) -> tuple[int, int]:
    """Less the weight of the groups that are served whole, and less the number of jobs served."""
    groups: defaultdict[str, list[Job]] = defaultdict(list)
    jobs = [job for job in question.jobs if job.on_hold is on_hold]
    for job in jobs:
        groups[job.group or job.key].append(job)
    whole = (group for group in groups.values() if all(job.key in served for job in group))
    return -sum(group[0].weight for group in whole), -sum(job.key in served for job in jobs)
