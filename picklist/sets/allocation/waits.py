"""Find how long the jobs without a set wait: which sets come free after their need, and when.

The jobs of one case have the same need and place. A set given to any of them is bound by the
case itself, so that it never comes free for it; and the sets that a case lacks are as many
different sets, each of which comes for one of them.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from operator import itemgetter

from picklist.sets.allocation.terms import AllocationQuestion, Copy, GivenSet, Job, NextFreeSet


def soonest_sets(question: AllocationQuestion, given: Iterable[GivenSet]) -> dict[str, NextFreeSet | None]:
    """For each unserved job the set that comes free for it; None when none ever does.

    The jobs of a case take the sets in the order in which they come free, by usual minutes. A set
    comes free when what binds it at the need lets it go: the job that it serves then, or its state
    before its first job. One that stands ready then and is kept for a later job comes free after that.
    """
    on_copy: defaultdict[str, list[GivenSet]] = defaultdict(list)
    jobs = {job.key: job for job in question.jobs}
    for one in sorted(given, key=lambda each: jobs[each.job].need):
        on_copy[one.copy].append(one)
    served = {one.job for chain in on_copy.values() for one in chain}
    found: dict[str, NextFreeSet | None] = {}
    for all_of_case in by_case(question):
        lacking = [job for job in all_of_case if job.key not in served]
        if not lacking:
            continue
        kinds = {option.kind for job in lacking for option in job.options}
        suitable = [copy for copy in question.copies if copy.kind in kinds]
        comings = [_coming_of(copy, on_copy[copy.id], jobs, lacking[0]) for copy in suitable]
        shares = assign_next_free(lacking, sorted((one for one in comings if one is not None), key=_soonest))
        found |= {job.key: shares.get(job.key) for job in lacking}
    return {job.key: found[job.key] for job in question.jobs if job.key in found}


def _soonest(coming: NextFreeSet) -> tuple[int, str]:
    return coming.minutes, coming.copy


def _coming_of(copy: Copy, chain: Sequence[GivenSet], jobs: Mapping[str, Job], job: Job) -> NextFreeSet | None:
    """When a copy comes free for a job first, after the jobs that it serves; None when it never does."""
    if any(jobs[one.job].party == job.party for one in chain):
        return None
    taken = [one for one in chain if jobs[one.job].need <= job.need]
    after = [*taken[-1:], *chain[len(taken) :]]
    readies = [] if taken else [("", copy.ready_for(job))]
    readies += [(one.job, jobs[one.job].back[one.kind].get(job.place)) for one in after]
    late = [(ready.usual - job.need, key) for key, ready in readies if ready is not None and ready.usual > job.need]
    if not late:
        return None
    minutes, key = min(late, key=lambda each: each[0])
    return NextFreeSet(minutes, copy.kind, copy.id, key)


def least_late(question: AllocationQuestion, given: Sequence[GivenSet]) -> int:
    """Minutes that the unserved jobs are late, as ``soonest_sets`` says: what an allocation is judged by.

    A job for which no set comes counts as ``never_minutes``.
    """
    coming = soonest_sets(question, given)
    total = 0
    for jobs in by_case(question):
        lacking = [job for job in jobs if job.key in coming]
        never = never_minutes(possible_comings(question, jobs)) if lacking else 0
        total += sum(one.minutes if (one := coming[job.key]) else never for job in lacking)
    return total


def possible_comings(question: AllocationQuestion, jobs: Sequence[Job]) -> list[NextFreeSet]:
    """Every return and first readiness after the need of a case of sets that may serve it, the soonest first.

    ``after`` is the job that would give the set back, empty for the first readiness of ``copy``.
    """
    job = jobs[0]
    need, place, party = job.need, job.place, job.party
    kinds = {option.kind for one in jobs for option in one.options} & question.kinds()
    found = []
    for copy in question.copies:
        ready = copy.ready_for(job) if copy.kind in kinds else None
        if ready is not None and ready.usual > need:
            found.append(NextFreeSet(ready.usual - need, copy.kind, copy.id, ""))
    for kind in kinds:
        returns = question.returns(kind, place)
        found += [
            NextFreeSet(usual - need, kind, "", other.key)
            for usual, other in returns[bisect_right(returns, need, key=itemgetter(0)) :]
            if other.party != party
        ]
    return sorted(found)


def of_use(jobs: Sequence[Job], comings: Iterable[NextFreeSet]) -> Iterator[NextFreeSet]:
    """Those that one of the jobs could take: not so late that a set on loan would have to go back before."""
    return (one for one in comings if any(job.takes(one.kind, one.minutes) for job in jobs))


def never_minutes(possible: Sequence[NextFreeSet]) -> int:
    """What counts as lateness of a case's job when no set comes: more than the last of all that might come."""
    return possible[-1].minutes + 1 if possible else 0


def by_case(question: AllocationQuestion) -> list[list[Job]]:
    """The jobs, those of one case together."""
    cases: defaultdict[str, list[Job]] = defaultdict(list)
    for job in question.jobs:
        cases[job.party].append(job)
    return list(cases.values())


def assign_next_free(jobs: Sequence[Job], comings: Iterable[NextFreeSet]) -> dict[str, NextFreeSet]:
    """Give as many jobs as possible a coming set that may serve them, in least minutes; ``comings`` are in order.

    Which of a case's jobs a set comes for makes no difference to its minutes. So a coming is taken when
    those taken before and it can all be matched: the greedy choice is the best one in a matroid.
    """
    taken: dict[str, NextFreeSet] = {}
    for coming in comings:
        if len(taken) == len(jobs):
            break
        _place(coming, jobs, taken, set())
    return taken


def _place(coming: NextFreeSet, jobs: Sequence[Job], taken: dict[str, NextFreeSet], seen: set[str]) -> bool:
    fitting = [job for job in jobs if job.takes(coming.kind, coming.minutes) and job.key not in seen]
    for job in fitting:
        if job.key not in taken:
            taken[job.key] = coming
            return True
    for job in fitting:
        seen.add(job.key)
        if _place(taken[job.key], jobs, taken, seen):
            taken[job.key] = coming
            return True
    return False
