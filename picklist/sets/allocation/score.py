"""Score an allocation from what was given alone, without the program that found it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace

from picklist.sets.allocation.terms import AllocationQuestion, GivenSet, Grade, Job, Score
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
    """The allocation's value by every objective."""
    jobs = {job.key: job for job in question.jobs}
    groups: defaultdict[str, list[Job]] = defaultdict(list)
    for job in question.jobs:
        groups[job.group or job.key].append(job)
    served = {one.job for one in given}
    close = [one for one in given if one.grade is not Grade.CLEAN]
    slacks = [one.slack for one in given if one.grade is Grade.CLEAN and one.slack is not None]
    return Score(
        weight=sum(group[0].weight for group in groups.values() if all(job.key in served for job in group)),
        served=len(served),
        rush=sum(jobs[one.job].weight for one in close if one.grade is Grade.RUSH),
        unopened=sum(jobs[one.job].weight for one in close if one.grade is Grade.UNOPENED),
        under=_all_depths(question, given, jobs),
        late=least_late(question, given) - sum(one.slack or 0 for one in close),
        stand_ins=sum(one.preference for one in given),
        smallest=min(slacks, default=None),
        tightness=sum(max(0, question.margin - slack) for slack in slacks),
    )
