"""Keep the sets that a printed list names where the allocation is no worse for it.

Two sets of one kind exchange what they serve from some moment on. They do so only where both uses at
which they cross over are served by usual minutes before and after, no use gets tight, and the two
have as many minutes to spare as before, one the other's if need be; twice the margin is ample, if
some use has no more, and ``AMPLE`` where all have more. So no objective of the allocation gets worse,
but for a smallest slack of hours; the trays, who is served and who stands in are as they were.
"""

from __future__ import annotations

from bisect import bisect_left, insort
from collections.abc import Mapping
from dataclasses import replace

from picklist.sets.allocation.score import with_floors
from picklist.sets.allocation.solve import split
from picklist.sets.allocation.terms import AllocationAnswer, AllocationQuestion, GivenSet, Grade, Job, NextFreeSet
from picklist.sets.allocation.waits import soonest_sets

Move = tuple[Job, str, str]  # a job, the set that is to serve it, and the job before on that set (empty: none)
AMPLE = 240  # minutes: the smallest slack of all is not worth a new list beyond this
_NOTHING_TO_LOSE = 10**9  # minutes; a set that is there has no slack to lose


def keep_printed(
    question: AllocationQuestion, answer: AllocationAnswer, printed: Mapping[str, str]
) -> AllocationAnswer:
    """Keep more printed sets (job key -> set) in an answer by exchanges that leave it as good as it is.

    Jobs are taken in order of time: each gets its printed set if the two sets may be exchanged there,
    and a job without a printed set makes way for those that have one. What was on a built cart counts as printed.
    """
    printed = {**printed, **{job.key: job.cart for job in question.jobs if job.cart}}
    if all(printed.get(one.job, one.copy) == one.copy for one in answer.given):
        return answer
    given: dict[str, GivenSet] = {}
    waits: dict[str, NextFreeSet | None] = {}
    for group in split(question):
        mine = {job.key for job in group.jobs}
        one = _keep(group, tuple(one for one in answer.given if one.job in mine), printed)
        given |= {each.job: each for each in one.given}
        waits |= one.waits
    return AllocationAnswer(
        given=tuple(given[one.job] for one in answer.given), waits={key: waits[key] for key in answer.waits}
    )


def _keep(question: AllocationQuestion, given: tuple[GivenSet, ...], printed: Mapping[str, str]) -> AllocationAnswer:
    chains = _Chains(question, given)
    lists = _Lists(chains.jobs, printed)
    for job in chains.in_order():
        mine = chains.given[job.key].copy
        for copy in lists.preferred(job, chains.like(mine), mine, chains.serves[mine]):
            if copy == mine or chains.may_cross(job, copy):
                chains.cross(job, copy)
                break
    kept = with_floors(question, tuple(chains.given[one.job] for one in given))
    before = AllocationAnswer(given=given, waits=soonest_sets(question, given))
    after = AllocationAnswer(given=kept, waits=soonest_sets(question, kept))
    gains = _kept(kept, printed) > _kept(given, printed)
    return after if gains and after.unserved == before.unserved else before


def _kept(given: tuple[GivenSet, ...], printed: Mapping[str, str]) -> int:
    return sum(printed.get(one.job) == one.copy for one in given)


class _Lists:
    """Which set is printed for each job, and so when each set is spoken for."""

    def __init__(self, jobs: Mapping[str, Job], printed: Mapping[str, str]) -> None:
        self.printed = {key: printed[key] for key in jobs if key in printed}
        self.needs: dict[str, list[int]] = {}
        for key, copy in self.printed.items():
            insort(self.needs.setdefault(copy, []), jobs[key].need)

    def preferred(self, job: Job, copies: list[str], mine: str, serves: list[Job]) -> list[str]:
        """The sets that a job should have, best first: its printed one, else one that no list wants meanwhile.

        Of these one that is printed for what the job's set ``serves`` after it.
        """
        wanted = self.printed.get(job.key)
        later = {self.printed.get(one.key) for one in serves if one.need > job.need}
        free = sorted(
            copies,
            key=lambda copy: (copy != wanted, self._spoken_for(copy, job), copy not in later, copy != mine, copy),
        )
        return free[: free.index(mine) + 1]

    def _spoken_for(self, copy: str, job: Job) -> int:
        """How many lists want a set from the job's need until the job gives it back."""
        needs = self.needs.get(copy, [])
        back = max((ready.usual for places in job.back.values() for ready in places.values()), default=job.need)
        return bisect_left(needs, back) - bisect_left(needs, job.need)


class _Chains:
    """What each set serves, one job after the other."""

    def __init__(self, question: AllocationQuestion, given: tuple[GivenSet, ...]) -> None:
        self.question = question
        self.jobs = {job.key: job for job in question.jobs}
        self.copies = {copy.id: copy for copy in question.copies}
        self.margin = question.margin
        self.smallest = min((_slack(one) for one in given if one.grade is Grade.CLEAN), default=_NOTHING_TO_LOSE)
        self.given = {one.job: one for one in given}
        self.serves: dict[str, list[Job]] = {copy.id: [] for copy in question.copies}
        for job in self.in_order():
            self.serves[self.given[job.key].copy].append(job)

    def in_order(self) -> list[Job]:
        """The served jobs as they come."""
        return sorted((self.jobs[key] for key in self.given), key=_order)

    def like(self, copy: str) -> list[str]:
        """The sets of the same kind, itself among them."""
        return [one.id for one in self.copies.values() if one.kind == self.copies[copy].kind]

    def may_cross(self, job: Job, wanted: str) -> bool:
        """Whether the set that serves a job may from then on serve what another set does, and the other way round."""
        moves = self._moves(job, wanted)
        before = [self.given[move[0].key] for move in moves]
        after = [served for move in moves if (served := self._served(*move))]
        return len(after) == len(moves) and self._is_as_good(before, after)

    def _is_as_good(self, before: list[GivenSet], after: list[GivenSet]) -> bool:
        if any(one.grade is not Grade.CLEAN for one in (*before, *after)) or self._stay(before) > self._stay(after):
            return False
        had, have = [self._spare(one) for one in before], [self._spare(one) for one in after]
        none_tight = all(now >= min(then, self.margin) for then, now in zip(had, have, strict=True))
        return none_tight and all(now >= then for then, now in zip(sorted(had), sorted(have), strict=True))

    def _stay(self, given: list[GivenSet]) -> int:
        """How many sets stay on their built carts."""
        return sum(one.stays_on(self.jobs[one.job].cart) for one in given)

    def cross(self, job: Job, wanted: str) -> None:
        """Let the set that serves a job and another one exchange what they serve from then on."""
        here = self.given[job.key].copy
        if here == wanted:
            return
        changed = [served for move in self._moves(job, wanted) if (served := self._served(*move))]
        mine, theirs = self._split(here, job), self._split(wanted, job)
        self.serves[here], self.serves[wanted] = mine[0] + theirs[1], theirs[0] + mine[1]
        for copy in (here, wanted):
            for one in self.serves[copy]:
                self.given[one.key] = replace(self.given[one.key], copy=copy)
        self.given |= {one.job: one for one in changed}

    def _spare(self, one: GivenSet) -> int:
        """Minutes to spare, as far as more of them would be worth a new list."""
        return min(_slack(one), max(2 * self.margin, min(self.smallest, AMPLE)))

    def _split(self, copy: str, job: Job) -> tuple[list[Job], list[Job]]:
        """What a set serves before a job, and from it on."""
        serves = self.serves[copy]
        place = bisect_left(serves, _order(job), key=_order)
        return serves[:place], serves[place:]

    def _moves(self, job: Job, wanted: str) -> list[Move]:
        """The jobs at which the sets cross over."""
        here = self.given[job.key].copy
        before_here, _ = self._split(here, job)
        before_there, from_there = self._split(wanted, job)
        moves = [(job, wanted, before_there[-1].key if before_there else "")]
        if from_there:
            moves.append((from_there[0], here, before_here[-1].key if before_here else ""))
        return moves

    def _served(self, job: Job, copy: str, after: str) -> GivenSet | None:
        """A job served by another set of the kind that it has; None when that set does not make it."""
        mine = self.given[job.key]
        kind, ready = self.copies[copy].kind, self.copies[copy].ready_for(job)
        if after:
            giver, was = self.jobs[after], self.given[after].kind
            kind, ready = self.question.kind_after(giver, was), giver.back[was].get(job.place)
        if kind != mine.kind:
            return None
        grade = ready.grade(job.need) if ready else None
        if ready is None or grade is None:
            return None
        waits = ready.waits or grade is not Grade.CLEAN
        return replace(mine, copy=copy, after=after, grade=grade, slack=job.need - ready.usual if waits else None)


def _order(job: Job) -> tuple[int, int, str]:
    return job.need, job.start, job.key


def _slack(one: GivenSet) -> int:
    return _NOTHING_TO_LOSE if one.slack is None else one.slack
