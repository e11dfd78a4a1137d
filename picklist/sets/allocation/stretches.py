"""Long questions cut where every set is back and has the margin to spare: nothing before tells on what follows."""

from __future__ import annotations

from dataclasses import replace

from picklist.sets.allocation.terms import Given, Job, Question

LONG = 120  # jobs; shorter questions are solved in one piece


def cut(question: Question) -> tuple[Question, ...]:
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
    busy_until = arrives
    for job in sorted(question.jobs, key=lambda one: (one.need, one.key)):
        if not stretches or (job.need >= busy_until and job.need >= arrives):
            stretches.append([])
        stretches[-1].append(job)
        busy_until = max(busy_until, _back(job) + question.margin)
    return tuple(replace(question, jobs=tuple(jobs)) for jobs in stretches)


def join(question: Question, parts: list[tuple[Given, ...]]) -> tuple[Given, ...]:
    """What was given in each stretch as one; a set's first job in a stretch follows its last one before."""
    jobs = {job.key: job for job in question.jobs}
    last: dict[str, Given] = {}
    joined: list[Given] = []
    for part in parts:
        before = dict(last)
        for given in sorted(part, key=lambda one: jobs[one.job].need):
            earlier = before.get(given.copy) if not given.after else None
            last[given.copy] = _following(jobs, earlier, given) if earlier else given
            joined.append(last[given.copy])
    return tuple(joined)


def _following(jobs: dict[str, Job], earlier: Given, given: Given) -> Given:
    job = jobs[given.job]
    ready = jobs[earlier.job].back[given.kind][job.place]
    return replace(given, after=earlier.job, slack=job.need - ready.usual)


def _back(job: Job) -> int:
    """When any set that the job may get is back at every place."""
    return max((ready.usual for places in job.back.values() for ready in places.values()), default=job.need)
