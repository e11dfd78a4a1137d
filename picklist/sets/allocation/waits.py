"""Find how long the jobs without a set wait: which sets come free after their need, and when.

The jobs of one case have the same need and place. A set given to any of them is bound by the
case itself, so that it never comes free for it; and the sets that a case lacks are as many
different sets, each of which comes for one of them.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence

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
    return NextFreeSet(minutes=minutes, kind=copy.kind, copy=copy.id, after=key)


def least_late(question: AllocationQuestion, given: Sequence[GivenSet]) -> int:
    """Minutes that the unserved jobs are late at least: what an allocation is judged by.

    Each return after the need from the case that has a set then or later, and each set that is ready for
    the first time then, comes for one of the jobs that a case lacks, and no more of a kind than the case
    has not got. It is what ``soonest_sets`` says, unless one set comes free twice in a time in which a case
    waits for two. A job for which none comes counts as ``never_minutes``.
    """
    kind_of = {one.job: one.kind for one in given}
    needs = {job.key: job.need for job in question.jobs}
    total = 0
    for jobs in by_case(question):
        lacking = [job for job in jobs if job.key not in kind_of]
        possible = possible_comings(question, jobs) if lacking else []
        gone = _gone_by(given, needs, jobs[0].need)
        real = [one for one in possible if _is_real(one, kind_of, gone)]
        comings = of_use(lacking, real)
        shares = assign_next_free(lacking, _as_many_as_there_are(question, kind_of, jobs, comings))
        never = never_minutes(possible)
        total += sum(shares[job.key].minutes if job.key in shares else never for job in lacking)
    return total


def _gone_by(given: Iterable[GivenSet], needs: Mapping[str, int], need: int) -> set[str]:
    """The jobs and sets whose set (as it stands) went on to a job by a need, be it in a rush or unopened."""
    return {one.after or one.copy for one in given if needs[one.job] <= need}


def _is_real(coming: NextFreeSet, kind_of: Mapping[str, str], gone: Collection[str]) -> bool:
    if not coming.after:
        return coming.copy not in gone
    return kind_of.get(coming.after) == coming.kind and coming.after not in gone


def possible_comings(question: AllocationQuestion, jobs: Sequence[Job]) -> list[NextFreeSet]:
    """Every return and first readiness after the need of a case of sets that may serve it, the soonest first.

    ``after`` is the job that would give the set back, empty for the first readiness of ``copy``.
    """
    job = jobs[0]
    kinds = {option.kind for one in jobs for option in one.options} & question.kinds()
    found = []
    for copy in question.copies:
        ready = copy.ready_for(job) if copy.kind in kinds else None
        if ready is not None and ready.usual > job.need:
            found.append(NextFreeSet(minutes=ready.usual - job.need, kind=copy.kind, copy=copy.id, after=""))
    for other in question.jobs:
        for kind in kinds & other.back.keys() if other.party != job.party else ():
            again = other.back[kind].get(job.place)
            if again is not None and again.usual > job.need:
                found.append(NextFreeSet(minutes=again.usual - job.need, kind=kind, copy="", after=other.key))
    return sorted(found, key=lambda one: (one.minutes, one.kind, one.copy, one.after))


def of_use(jobs: Sequence[Job], comings: Iterable[NextFreeSet]) -> list[NextFreeSet]:
    """Those that one of the jobs could take: not so late that a set on loan would have to go back before."""
    return [one for one in comings if any(job.takes(one.kind, one.minutes) for job in jobs)]


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


def _as_many_as_there_are(
    question: AllocationQuestion, kind_of: Mapping[str, str], jobs: Sequence[Job], comings: Iterable[NextFreeSet]
) -> list[NextFreeSet]:
    """The first comings of each kind, as many as there are sets of it that the case has not got."""
    left = Counter(question.lasting(copy.kind) for copy in question.copies)
    left.subtract(question.lasting(kind_of[job.key]) for job in jobs if job.key in kind_of)
    found = []
    for coming in comings:
        if left[question.lasting(coming.kind)] > 0:
            left[question.lasting(coming.kind)] -= 1
            found.append(coming)
    return found
