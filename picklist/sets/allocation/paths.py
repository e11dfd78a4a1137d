"""Read from the flow of a solved network which set each job gets."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from heapq import heappop, heappush

from picklist.sets.allocation.network import Link, Network, Shelf
from picklist.sets.allocation.terms import GivenSet, Grade, Job, Option, Ready


@dataclass(slots=True)
class _Shelves:
    """Sets waiting per kind and place, longest idle first: when ready, then copy and the job before."""

    waiting: defaultdict[Shelf, list[tuple[bool, int, str, str]]] = field(default_factory=lambda: defaultdict(list))

    def put(self, shelf: Shelf, ready: Ready, copy: str, after: str) -> None:
        heappush(self.waiting[shelf], (ready.waits, ready.usual, copy, after))


def read_paths(network: Network, solution: list[float]) -> tuple[GivenSet, ...]:
    """The sets given, in order of need; over the shelf the longest idle goes first."""
    arriving = {link.job.key: link for link in network.links if solution[link.column] > 0.5}
    spare = {number: list(reversed(batch.ids)) for number, batch in enumerate(network.batches)}
    direct = {key: spare[link.source].pop() for key, link in sorted(arriving.items()) if isinstance(link.source, int)}
    passed_on = {link.source for link in arriving.values()}
    shelves = _Shelves()
    _shelve_copies(network, solution, spare, shelves)
    given: dict[str, GivenSet] = {}
    for job in sorted(network.question.jobs, key=lambda one: (one.need, one.start, one.key)):
        kind = _kind_of(network, solution, job)
        if kind is None:
            continue
        link = arriving.get(job.key)
        if link is not None:
            copy = direct[job.key] if isinstance(link.source, int) else given[link.source].copy
            given[job.key] = _by_link(job, link, copy)
        else:
            given[job.key] = _from_shelf(job, kind, shelves)
        if job.key not in passed_on:
            place = _place_after(network, solution, job, kind)
            if place is not None:
                shelf = (network.question.kind_after(job, kind), place)
                shelves.put(shelf, job.back[kind][place], given[job.key].copy, job.key)
    return tuple(given.values())


def _shelve_copies(network: Network, solution: list[float], spare: dict[int, list[str]], shelves: _Shelves) -> None:
    for (number, place), column in network.start.items():
        batch = network.batches[number]
        for _ in range(round(solution[column])):
            shelves.put((batch.kind, place), batch.sample.first[place], spare[number].pop(), "")
    for number, ids in spare.items():
        batch = network.batches[number]
        places = sorted(place for place in batch.sample.first if (number, place) in network.start)
        for copy in ids if places else ():
            shelves.put((batch.kind, places[0]), batch.sample.first[places[0]], copy, "")


def _kind_of(network: Network, solution: list[float], job: Job) -> str | None:
    for option in job.options:
        column = network.serve.get((job.key, option.kind))
        if column is not None and solution[column] > 0.5:
            return option.kind
    return None


def _place_after(network: Network, solution: list[float], job: Job, kind: str) -> str | None:
    places = sorted(place for place in job.back[kind] if (job.key, kind, place) in network.out)
    chosen = [place for place in places if solution[network.out[job.key, kind, place]] > 0.5]
    return next(iter(chosen or places), None)


def _option(job: Job, kind: str) -> Option:
    return next(option for option in job.options if option.kind == kind)


def _by_link(job: Job, link: Link, copy: str) -> GivenSet:
    after = link.source if isinstance(link.source, str) else ""
    return GivenSet(
        job=job.key,
        copy=copy,
        kind=link.kind,
        after=after,
        grade=link.grade,
        slack=link.slack,
        preference=_option(job, link.kind).preference,
    )


def _from_shelf(job: Job, kind: str, shelves: _Shelves) -> GivenSet:
    waits, usual, copy, after = heappop(shelves.waiting[kind, job.place])
    return GivenSet(
        job=job.key,
        copy=copy,
        kind=kind,
        after=after,
        grade=Grade.CLEAN,
        slack=job.need - usual if waits else None,
        preference=_option(job, kind).preference,
    )
