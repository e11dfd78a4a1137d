"""Every allocation of a small question, tried one by one and judged from the rules alone."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from picklist.sets.allocation.terms import Copy, Job, Question, Ready

Choice = dict[str, tuple[Copy, Ready]]  # job key to the copy and when it is ready for the job
Value = tuple[float, ...]


def best_value(question: Question) -> Value:
    """The value of the best allocation, smaller is better; comparable with ``value_of``."""
    return min(value_of(question, choice) for choice in every_choice(question))


def every_choice(question: Question) -> Iterator[Choice]:
    """All ways to give copies to jobs in time, in order of need."""
    jobs = sorted(question.jobs, key=lambda one: one.need)
    last: dict[str, Job] = {}
    choice: Choice = {}

    def go(at: int) -> Iterator[Choice]:
        if at == len(jobs):
            yield dict(choice)
            return
        job = jobs[at]
        yield from go(at + 1)
        for copy in question.copies:
            if copy.kind not in {option.kind for option in job.options}:
                continue
            before = last.get(copy.id)
            ready = before.back[copy.kind].get(job.place) if before else copy.ready_for(job)
            if ready is None or min(ready.usual, ready.least, ready.unopened or ready.usual) > job.need:
                continue
            choice[job.key] = (copy, ready)
            last[copy.id] = job
            yield from go(at + 1)
            del choice[job.key]
            if before:
                last[copy.id] = before
            else:
                del last[copy.id]

    yield from go(0)


def value_of(question: Question, choice: Choice) -> Value:
    """The objectives in their order, each to be made least, the tie rule last."""
    jobs = {job.key: job for job in question.jobs}
    served = set(choice)
    weight = sum(
        next(iter(group)).weight
        for group in (list(g) for _, g in groupby(sorted(question.jobs, key=_group), key=_group))
        if all(job.key in served for job in group)
    )
    rush = unopened = late = stand_ins = tightness = 0
    smallest = float("inf")
    for key, (copy, ready) in choice.items():
        job = jobs[key]
        slack = job.need - ready.usual
        stand_ins += next(o.preference for o in job.options if o.kind == copy.kind)
        if slack >= 0:
            if ready.waits:
                smallest = min(smallest, slack)
                tightness += max(0, question.margin - slack)
        elif ready.unopened is not None and ready.unopened <= job.need:
            unopened += job.weight
            late -= slack
        else:
            rush += job.weight
            late -= slack
    late += sum(_soonest(question, choice, job) for job in question.jobs if job.key not in served)
    owned = {copy.kind for copy in question.copies}
    under = sum(
        _under(question, choice, job, pool)
        for job in question.jobs
        for pool in {question.pools[option.kind] for option in job.options if option.kind in owned}
    )
    order = sorted(question.jobs, key=lambda one: (one.start if question.earlier_keeps else -one.start, one.key))
    ties = [float(job.key not in served) for job in order]
    claims = {job.key: len(order) - at for at, job in enumerate(order)}
    early = sum(
        claims[key] * next(o.preference for o in jobs[key].options if o.kind == copy.kind)
        for key, (copy, _) in choice.items()
    )
    return (-weight, -len(served), rush, unopened, under, late, stand_ins, -smallest, tightness, *ties, early)


def _group(job: Job) -> str:
    return job.group or job.key


def _soonest(question: Question, choice: Choice, job: Job) -> int:
    kinds = {option.kind for option in job.options}
    moments = []
    for copy in question.copies:
        if copy.kind in kinds:
            uses = [other for other in question.jobs if other.key in choice and choice[other.key][0].id == copy.id]
            readies = [copy.ready_for(job)] + [other.back[copy.kind].get(job.place) for other in uses]
            moments += [ready.usual - job.need for ready in readies if ready and ready.usual > job.need]
    if moments:
        return min(moments)
    # Nothing ever comes: later than the latest release that could have been.
    others = [other for other in question.jobs if other.key != job.key]
    owned = kinds & {copy.kind for copy in question.copies}
    ends = [
        o.back[k][job.place].usual - job.need for o in others for k in owned & set(o.back) if job.place in o.back[k]
    ]
    return max([end for end in ends if end > 0], default=-1) + 1


def _under(question: Question, choice: Choice, job: Job, pool: str) -> int:
    """How many sets under its floor the pool stands at the moment at which the job needs its set."""
    floor = question.floors.get(pool, 0)
    standing = bound = 0
    for copy in question.copies:
        ready = copy.ready_for(job)
        if question.pools[copy.kind] != pool or ready is None or ready.usual > job.need:
            continue
        standing += 1
        uses = [o for o in question.jobs if o.key in choice and choice[o.key][0].id == copy.id and o.need <= job.need]
        last = max(uses, key=lambda one: one.need, default=None)
        back = last.back[copy.kind].get(last.place) if last is not None else None
        bound += last is not None and (back is None or back.usual > job.need)
    return max(0, bound - max(0, standing - floor)) if floor else 0
