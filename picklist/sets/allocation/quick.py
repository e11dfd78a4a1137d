"""Solve an easy question: every job gets a set of exactly its tray: the one on its built cart, or the longest idle.

Among sets that may take each other's place this order makes every slack as large as it can be:
swapping two crossing reuses never lowers the smaller of their slacks.
"""

from __future__ import annotations

from collections import defaultdict
from heapq import heapify, heappop, heappush

from picklist.sets.allocation.terms import AllocationQuestion, Copy, GivenSet, Grade, Job, Ready


def serve_all(question: AllocationQuestion) -> tuple[GivenSet, ...] | None:
    """All served cleanly by the tray asked for, above every floor, with every set left on its built cart.

    None when this simple way is not possible.
    """
    kind_of = {copy.id: copy.kind for copy in question.copies}
    wanted: defaultdict[str, list[Job]] = defaultdict(list)
    for job in question.jobs:
        exact = [option.kind for option in job.options if option.preference == 0]
        if len(exact) != 1 or kind_of.get(job.cart, exact[0]) != exact[0]:
            return None
        wanted[exact[0]].append(job)
    kinds_of: defaultdict[str, set[str]] = defaultdict(set)
    for kind, pool in question.pools.items():
        kinds_of[pool].add(kind)
    given: list[GivenSet] = []
    for kind in sorted(wanted):
        pool = question.pools[kind]
        floor = question.floors.get(pool, 0)
        if floor and len(kinds_of[pool]) > 1:
            return None
        part = _serve_kind(kind, wanted[kind], [c for c in question.copies if c.kind == kind], floor)
        if part is None:
            return None
        given += part
    return tuple(given)


def _serve_kind(kind: str, jobs: list[Job], copies: list[Copy], floor: int) -> list[GivenSet] | None:
    place = jobs[0].place
    if any(copy.comes_without_slack(job) for copy in copies for job in jobs):
        return None
    if any(job.place != place for job in jobs) or any(copy.exceptions or place not in copy.first for copy in copies):
        return None
    ordered = sorted(copies, key=lambda copy: (_key(copy.first[place]), copy.id))
    jobs = sorted(jobs, key=lambda job: (job.need, job.start, job.key))
    # Sets kept ready are the first to be ready; the rest must do, and then all may take turns.
    if floor and _take_turns(kind, jobs, ordered[floor:]) is None:
        return None
    return _take_turns(kind, jobs, ordered)


def _key(ready: Ready) -> tuple[bool, int]:
    return ready.waits, ready.usual


def _take_turns(kind: str, jobs: list[Job], copies: list[Copy]) -> list[GivenSet] | None:
    first = {copy.id: (*_key(copy.first[jobs[0].place]), copy.id, "") for copy in copies}
    on_carts = {job.cart: first[job.cart] for job in jobs if job.cart in first}
    queue = [one for one in first.values() if one[2] not in on_carts]
    heapify(queue)
    given = []
    for job in jobs:
        stays = job.cart in on_carts
        if not stays and not queue:
            return None
        waits, usual, copy_id, after = on_carts.pop(job.cart) if stays else heappop(queue)
        if usual > job.need:
            return None
        slack = job.need - usual if waits else None
        given.append(GivenSet(job=job.key, copy=copy_id, kind=kind, after=after, grade=Grade.CLEAN, slack=slack))
        back = job.back[kind].get(job.place)
        if back is not None:
            heappush(queue, (True, back.usual, copy_id, job.key))
    return given
