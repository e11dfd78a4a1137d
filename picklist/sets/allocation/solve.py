"""Answer one allocation question: cut it into stretches and independent parts, solve each quickly or exactly."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from dataclasses import replace

from picklist.sets.allocation.exact import Judge, best_by_levels, solve_exactly
from picklist.sets.allocation.quick import serve_all
from picklist.sets.allocation.score import score, with_floors
from picklist.sets.allocation.terms import AllocationAnswer, AllocationQuestion, GivenSet, Job, Level, NextFreeSet
from picklist.sets.allocation.waits import soonest_sets
from picklist.sets.parts import joined_parts


def solve(question: AllocationQuestion, judge: Judge | None = None) -> AllocationAnswer:
    """The best allocation by every objective of ``terms.Score``; parts that share no set are solved apart.

    With a judge only the conflicts of the answer count. Raises StoppedError where it allows none.
    """
    given: dict[str, GivenSet] = {}
    waits: dict[str, NextFreeSet | None] = {}
    for part in split(question):
        one = solve_part(part, judge)
        given |= {each.job: each for each in one.given}
        waits |= one.waits
    order = [job.key for job in question.jobs]
    return AllocationAnswer(
        given=tuple(given[key] for key in order if key in given),
        waits={key: waits[key] for key in order if key in waits},
    )


def solve_part(question: AllocationQuestion, judge: Judge | None = None) -> AllocationAnswer:
    """The best allocation of a question that is not split further; ``judge`` as ``solve`` takes it."""
    given = serve_all(question)
    if given is None:
        stretches = cut(question)
        # Between stretches slack may be lost that a judge would count on: it is asked of whole parts alone.
        parts = [_solve_stretch(part, judge if len(stretches) == 1 else None) for part in stretches]
        given = parts[0] if len(parts) == 1 else join(question, parts)
    given = with_floors(question, given)
    return AllocationAnswer(given=given, waits=soonest_sets(question, given))


def decided_against(question: AllocationQuestion, given: Collection[GivenSet], key: str) -> Level | None:
    """The level that decided that a job goes without a set; None when no allocation serves it.

    It is the first by which the best allocation that serves the job is worse than the one that does not.
    """
    part = next(one for one in split(question) if any(job.key == key for job in one.jobs))
    mine = {job.key for job in part.jobs}
    most = 1 + sum(job.weight for job in part.jobs)
    jobs = [replace(job, weight=most, on_hold=False, group="") if job.key == key else job for job in part.jobs]
    asked = replace(part, jobs=tuple(jobs))
    ours = score(part, tuple(one for one in given if one.job in mine))
    order = tuple(Level)
    for last, forced in best_by_levels(asked) if len(cut(asked)) == 1 else ():
        if all(one.job != key for one in forced):
            return None
        level = score(part, forced).decides_against(ours)
        if level is not None and order.index(level) <= order.index(last):
            return level
    forced = solve_part(asked).given
    if all(one.job != key for one in forced):
        return None
    return score(part, forced).decides_against(ours)


def _solve_stretch(question: AllocationQuestion, judge: Judge | None) -> tuple[GivenSet, ...]:
    given = serve_all(question)
    return solve_exactly(question, judge) if given is None else given


def split(question: AllocationQuestion) -> tuple[AllocationQuestion, ...]:
    """Parts with no tray in common, in a stable order."""
    together = dict.fromkeys(tuple(option.kind for option in job.options) for job in question.jobs)
    ties: list[list[tuple[str, str]]] = [[("kind", kind), ("pool", pool)] for kind, pool in question.pools.items()]
    ties += [[("kind", kind) for kind in kinds] for kinds in together]
    part_of: dict[tuple[str, str], int] = {}
    for number, nodes in enumerate(joined_parts(ties)):
        part_of |= dict.fromkeys(nodes, number)
    jobs, copies = defaultdict(list), defaultdict(list)
    for job in question.jobs:
        # A job that no set may serve is a part of its own.
        node = ("kind", job.options[0].kind) if job.options else ("job", job.key)
        jobs[part_of.setdefault(node, len(part_of) + len(question.jobs))].append(job)
    for copy in question.copies:
        copies[part_of["kind", copy.kind]].append(copy)
    pools: defaultdict[int, dict[str, str]] = defaultdict(dict)
    for kind, pool in question.pools.items():
        pools[part_of["kind", kind]][kind] = pool
    return tuple(
        replace(question, jobs=tuple(jobs[part]), copies=tuple(copies[part]), pools=pools[part])
        for part in sorted(jobs, key=lambda number: jobs[number][0].key)
    )


LONG = 120  # jobs; shorter questions are solved in one piece


def cut(question: AllocationQuestion) -> tuple[AllocationQuestion, ...]:
    """The stretches of a long question in order of time; the question itself when it is short or cannot be cut.

    Who is served, and how late the others are, is the same as in one piece. The smallest slack is
    made as large as it can be within each stretch; between stretches it is at least the margin.
    """
    if len(question.jobs) <= LONG or any(copy.exceptions for copy in question.copies):
        return (question,)
    if question.renewed:
        return (question,)  # whether a set has a new record by the next stretch is told by what it did before
    if any(not places for job in question.jobs for places in job.back.values()):
        return (question,)  # a set that never comes back is missing for good
    arrives = max((ready.usual for copy in question.copies for ready in copy.first.values()), default=0)
    stretches: list[list[Job]] = []
    # A set that stands on a built cart is no stretch's to give away before its case has had it.
    busy_until = max([arrives, *(job.need + 1 for job in question.jobs if job.cart)])
    for job in sorted(question.jobs, key=lambda one: (one.need, one.key)):
        if not stretches or (job.need >= busy_until and job.need >= arrives):
            stretches.append([])
        stretches[-1].append(job)
        busy_until = max(busy_until, _back(job) + question.margin)
    return tuple(replace(question, jobs=tuple(jobs)) for jobs in stretches)


def join(question: AllocationQuestion, parts: list[tuple[GivenSet, ...]]) -> tuple[GivenSet, ...]:
    """What was given in each stretch as one; a set's first job in a stretch follows its last one before."""
    jobs = {job.key: job for job in question.jobs}
    last: dict[str, GivenSet] = {}
    joined: list[GivenSet] = []
    for part in parts:
        before = dict(last)
        for given in sorted(part, key=lambda one: jobs[one.job].need):
            earlier = before.get(given.copy) if not given.after else None
            last[given.copy] = _following(jobs, earlier, given) if earlier else given
            joined.append(last[given.copy])
    return tuple(joined)


def _following(jobs: dict[str, Job], earlier: GivenSet, given: GivenSet) -> GivenSet:
    job = jobs[given.job]
    ready = jobs[earlier.job].back[given.kind][job.place]
    return replace(given, after=earlier.job, slack=job.need - ready.usual)


def _back(job: Job) -> int:
    """When any set that the job may get is back at every place."""
    return max((ready.usual for places in job.back.values() for ready in places.values()), default=job.need)
