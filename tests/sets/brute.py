"""Every allocation of a small question, tried one by one and judged from the rules alone."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from picklist.sets.allocation.terms import AllocationQuestion, Copy, Job, Ready

Choice = dict[str, tuple[Copy, Ready]]  # job key to the copy and when it is ready for the job
Value = tuple[float, ...]


def best_value(question: AllocationQuestion) -> Value:
    """The value of the best allocation, smaller is better; comparable with ``value_of``."""
    return min(value_of(question, choice) for choice in every_choice(question))


def every_choice(question: AllocationQuestion) -> Iterator[Choice]:
    """All ways to give copies to jobs in time, in order of need."""
    jobs = sorted(question.jobs, key=lambda one: one.need)
    last: dict[str, tuple[Job, str]] = {}  # by copy: its job before, and the kind that it is since then
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
            kind = copy.kind
            if before:
                kind = question.renewed[before[1]] if before[1] in before[0].renews else before[1]
            ready = before[0].back[before[1]].get(job.place) if before else copy.ready_for(job)
            if ready is None or not (min(ready.usual, ready.least) <= job.need or _unopened(ready, job)):
                continue
            choice[job.key] = (copy, ready)
            last[copy.id] = (job, kind)
            yield from go(at + 1)
            del choice[job.key]
            if before:
                last[copy.id] = before
            else:
                del last[copy.id]

    yield from go(0)


def _unopened(ready: Ready, job: Job) -> bool:
    """Whether a set that stayed unopened is back by the job's need, and its record holds for it."""
    if ready.unopened is None or ready.unopened > job.need:
        return False
    return ready.unopened_last is None or job.need <= ready.unopened_last


def value_of(question: AllocationQuestion, choice: Choice) -> Value:
    """The objectives in their order, each to be made least, the tie rule last."""
    jobs = {job.key: job for job in question.jobs}
    served = set(choice)
    serving: list[float] = []
    for on_hold in (False, True):
        mine = [job for job in question.jobs if job.on_hold is on_hold]
        groups = (list(group) for _, group in groupby(sorted(mine, key=_group), key=_group))
        serving.append(-sum(group[0].weight for group in groups if all(job.key in served for job in group)))
        serving.append(-sum(job.key in served for job in mine))
    hanging = stand_ins = preference = close = tightness = 0
    smallest = float("inf")
    for key, (copy, ready) in choice.items():
        job = jobs[key]
        slack = job.need - ready.usual
        option = next(o for o in job.options if o.kind == copy.kind)
        stand_ins += option.preference > 0
        preference += option.preference
        if slack >= 0:
            if ready.waits:
                smallest = min(smallest, slack)
                tightness += max(0, question.margin - slack)
        else:
            hanging += 1
            close -= slack
    off_carts = sum(_leaves_its_cart(question, choice, job) for job in question.jobs)
    late = sum(_least_wait(question, choice, party) for party in {_party(job) for job in question.jobs})
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
    upper = (*serving, hanging, off_carts, stand_ins, preference, late)
    return (*upper, *ties, early, under, close, -smallest, tightness)


def _leaves_its_cart(question: AllocationQuestion, choice: Choice, job: Job) -> bool:
    """Whether the set on a job's built cart goes to another job, or to one before it."""
    if not job.cart:
        return False
    copy = choice[job.key][0] if job.key in choice else None
    before = [o for o in question.jobs if o.need < job.need and o.key in choice and choice[o.key][0] is copy]
    return copy is None or copy.id != job.cart or bool(before)


LATE = 8  # where the lateness stands in a value


def _group(job: Job) -> str:
    return job.group or job.key


def _party(job: Job) -> str:
    return job.case or job.key


def _least_wait(question: AllocationQuestion, choice: Choice, party: str) -> int:
    """Least minutes in all for the sets that a case lacks, over every way to share out what comes free after its need.

    Each set comes once at the most, and none that the case has itself.
    """
    mine = [job for job in question.jobs if _party(job) == party]
    lacking = [job for job in mine if job.key not in choice]
    if not lacking:
        return 0
    events = [_comes_free(question, choice, copy, mine[0]) for copy in question.copies]
    return _share(lacking, [one for one in events if one], _never(question, mine))


def _comes_free(question: AllocationQuestion, choice: Choice, copy: Copy, mine: Job) -> list[tuple[int, str]]:
    """The moments after the need of a case at which a set is ready for it, with its kind then.

    A set that goes to another case by then, in a rush or unopened, is not free when its route ends.
    """
    line = [job for job in question.jobs if job.key in choice and choice[job.key][0] is copy]
    if any(_party(job) == _party(mine) for job in line):
        return []
    line.sort(key=lambda one: one.need)
    kind, found = copy.kind, []
    first = copy.ready_for(mine)
    if first and first.usual > mine.need and not any(job.need <= mine.need for job in line):
        found.append((first.usual - mine.need, kind))
    for at, job in enumerate(line):
        back = job.back[kind].get(mine.place)
        gone = any(later.need <= mine.need for later in line[at + 1 :])
        if back and back.usual > mine.need and not gone:
            found.append((back.usual - mine.need, kind))
        kind = question.renewed[kind] if kind in job.renews else kind
    return found


def _never(question: AllocationQuestion, mine: list[Job]) -> int:
    """A minute more than the last moment at which any set could come for a case, whoever had it."""
    need, place, party = mine[0].need, mine[0].place, _party(mine[0])
    kinds = {option.kind for job in mine for option in job.options}
    owned = {copy.kind for copy in question.copies} | set(question.renewed.values())
    moments = [first.usual for copy in question.copies if copy.kind in kinds and (first := copy.ready_for(mine[0]))]
    for other in question.jobs:
        if _party(other) != party:
            moments += [
                other.back[kind][place].usual for kind in kinds & owned & set(other.back) if place in other.back[kind]
            ]
    return max([moment - need for moment in moments if moment > need], default=-1) + 1


def _helps(job: Job, kind: str, minute: int) -> bool:
    """Whether a set of a kind that comes free at a minute may serve the job then, and be back before it must go."""
    most = [option.most_late for option in job.options if option.kind == kind]
    return any(one is None or minute - job.need <= one for one in most)


def _share(lacking: list[Job], sets: list[list[tuple[int, str]]], never: int) -> int:
    """The least minutes in all at which each job gets one of the sets, at one of the moments at which it is free."""
    if not lacking:
        return 0
    job, rest = lacking[0], lacking[1:]
    best = never + _share(rest, sets, never)
    for at, moments in enumerate(sets):
        others = sets[:at] + sets[at + 1 :]
        for minutes, kind in moments:
            if _helps(job, kind, job.need + minutes):
                best = min(best, minutes + _share(rest, others, never))
    return best


def _under(question: AllocationQuestion, choice: Choice, job: Job, pool: str) -> int:
    """How many sets under its floor the pool stands at the moment at which the job needs its set."""
    floor = question.floors.get(pool, 0)
    standing = bound = 0
    for copy in question.copies:
        firsts = copy.first.values() if job.key not in copy.exceptions else [copy.exceptions[job.key]]
        if question.pools[copy.kind] != pool or all(one is None or one.usual > job.need for one in firsts):
            continue
        standing += 1
        uses = [o for o in question.jobs if o.key in choice and choice[o.key][0].id == copy.id and o.need <= job.need]
        last = max(uses, key=lambda one: one.need, default=None)
        # By usual minutes a set is back at the same time, whatever its record.
        bound += last is not None and all(back.usual > job.need for back in last.back[copy.kind].values())
    return max(0, bound - max(0, standing - floor)) if floor else 0
