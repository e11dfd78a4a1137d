"""The forward run: send every set through the machines and crew there are, event by event.

A list schedule in order of events: whenever a station may begin, it takes the waiting set whose
step has the earliest deadline, with as many others of the same cycle as fit. A station may hold a load
that is not full for ``hold`` minutes after its first set came, but never past the latest start
of a set in it, and not when no other set of the cycle is on its way.
"""

from __future__ import annotations

import heapq
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from picklist.department.run_terms import (
    NEVER,
    DepartmentJob,
    JobGroup,
    Place,
    RunOutcome,
    StationLoad,
    StepVisit,
    Times,
)
from picklist.department.station_queue import StationQueue
from picklist.model.routes import Station


@dataclass(frozen=True, slots=True, kw_only=True)
class Shop:
    """The conditions of a run: its first minute, stations and their times, minutes to hold by station."""

    now: int
    stations: Mapping[str, Station]
    times: Times
    hold: Mapping[str, int]


def run_forward(jobs: Sequence[DepartmentJob], shop: Shop) -> RunOutcome:
    """Run all jobs to their end. The same input always gives the same run."""
    record = _Record()
    run = _Run(jobs, shop, record)
    run.go_on()
    return RunOutcome(
        visits=record.visits, batches=tuple(record.batches), released=tuple(run.released), ready=tuple(run.ready)
    )


def ready_in_run(jobs: Sequence[DepartmentJob], shop: Shop) -> tuple[int, ...]:
    """When each job is ready in ``run_forward``, of which nothing else is recorded."""
    run = _Run(jobs, shop)
    run.go_on()
    return tuple(run.ready)


def ready_while_better(jobs: Sequence[DepartmentJob], shop: Shop, latest: int) -> tuple[int, ...] | None:
    """As ``ready_in_run``; None as soon as a job is later by more than so many minutes (see ``lateness``)."""
    run = _Run(jobs, shop)
    return tuple(run.ready) if run.go_on(latest) else None


def lateness(job: DepartmentJob, ready: int) -> int | None:
    """Minutes that other sets cost a job beyond when it is due; None for one that nothing waits for.

    A set that could not be in time even alone is due when it could be ready.
    """
    return None if job.due is None else ready - max(job.due, job.alone)


def joined_outcome(groups: Sequence[JobGroup], outcomes: Sequence[RunOutcome]) -> RunOutcome:
    """The run of all jobs, of the runs of groups that have nothing to do with each other."""
    count = sum(len(group.places) for group in groups)
    visits: dict[Place, StepVisit] = {}
    batches: list[StationLoad] = []
    released, ready = [NEVER] * count, [NEVER] * count
    for group, outcome in zip(groups, outcomes, strict=True):
        places = group.places
        visits |= {(places[j], s): visit for (j, s), visit in outcome.visits.items()}
        batches += [
            replace(batch, members=tuple((places[j], s) for j, s in batch.members)) for batch in outcome.batches
        ]
        for j, place in enumerate(places):
            released[place], ready[place] = outcome.released[j], outcome.ready[j]
    batches.sort(key=lambda batch: batch.begins)
    return RunOutcome(visits=visits, batches=tuple(batches), released=tuple(released), ready=tuple(ready))


class _Record:
    """What happens in a run: the visits and loads."""

    def __init__(self) -> None:
        self.arrivals: dict[Place, int] = {}
        self.held: dict[Place, int] = {}
        self.visits: dict[Place, StepVisit] = {}
        self.batches: list[StationLoad] = []
        self.numbers: Counter[tuple[str, int]] = Counter()

    def load(self, queue: StationQueue, machine: int, span: tuple[int, int], places: Sequence[Place]) -> None:
        """Record that a machine takes a load, from when until when."""
        station, (begins, ends) = queue.station.id, span
        self.numbers[station, machine] += 1
        batch = StationLoad(
            id=f"{station} {machine} load {self.numbers[station, machine]}",
            station=station,
            machine=machine,
            cycle=queue.step(places[0]).cycle,
            begins=begins,
            ends=ends,
            members=tuple(places),
        )
        self.batches.append(batch)
        for place in places:
            self._put_in(place, queue, batch)

    def _put_in(self, place: Place, queue: StationQueue, batch: StationLoad) -> None:
        arrives = self.arrivals.get(place, batch.begins)
        under_way = queue.step(place).started is not None
        self.visits[place] = StepVisit(
            arrives=arrives,
            alone=batch.begins if under_way else queue.may_begin(place, arrives),
            begins=batch.begins,
            ends=batch.ends,
            machine=batch.machine,
            load=batch.id,
            held=self.held.get(place),
        )


class _Run:
    """The state of one forward run, and the record of it where one is wanted."""

    def __init__(self, jobs: Sequence[DepartmentJob], shop: Shop, record: _Record | None = None) -> None:
        self.jobs = jobs
        self.shop = shop
        self.record = record
        self.events: list[tuple[int, int, Place | str]] = []  # minute, number, a step's place or a station
        self.count = 0
        self.missing = {(j, s): len(step.after) for j, job in enumerate(jobs) for s, step in enumerate(job.steps)}
        self.left = [len(job.steps) for job in jobs]
        self.ready = [NEVER] * len(jobs)
        self.released = [job.released for job in jobs]
        self.next_way = {job.follows: j for j, job in enumerate(jobs) if job.follows is not None}
        coming = _coming(jobs)
        self.queues = {
            name: StationQueue(station, jobs, shop.times, shop.hold.get(name, 0), coming[name])
            for name, station in shop.stations.items()
        }
        self.latest = -NEVER  # the greatest lateness so far
        self._take_up_what_runs()
        for j, job in enumerate(jobs):
            if job.follows is None:
                self._release(j, job.released)

    def go_on(self, latest: int = NEVER) -> bool:
        """Run to the end, or until a job is later by more than so many minutes; whether the end was reached."""
        while self.events and self.latest <= latest:
            self._next_moment()
        return self.latest <= latest

    def _note(self, at: int, what: Place | str) -> None:
        """Schedule an event: a step that arrives or ends, or a station to look at, at that minute."""
        if at < NEVER:
            self.count += 1
            heapq.heappush(self.events, (at, self.count, what))

    def _next_moment(self) -> None:
        now = self.events[0][0]
        stations = set()
        while self.events and self.events[0][0] == now:
            what = heapq.heappop(self.events)[2]
            stations.add(what if isinstance(what, str) else self._move(what, now))
        for station in sorted(stations - {""}):
            while self._begin_one(station, now):
                pass

    def _move(self, place: Place, now: int) -> str:
        """Handle a step that arrives or ends; answer the station to look at next."""
        if place in self.missing:
            self._arrive(place, now)
        else:
            self._end(place, now)
        return self.jobs[place[0]].steps[place[1]].station

    def _release(self, j: int, at: int) -> None:
        self.released[j] = at
        for s, step in enumerate(self.jobs[j].steps):
            if not step.after and step.started is None:
                self._note(at, (j, s))

    def _arrive(self, place: Place, now: int) -> None:
        """A step whose predecessors are done joins its station's queue, or starts where no station is needed."""
        del self.missing[place]
        step = self.jobs[place[0]].steps[place[1]]
        if step.station:
            if self.record:
                self.record.arrivals[place] = now
            self.queues[step.station].enter(place, now)
            return
        begins = self.shop.times.begin("", step.run, step.minutes, now)
        ends = self.shop.times.end("", step.run, step.minutes, begins)
        if self.record:
            self.record.visits[place] = StepVisit(arrives=now, alone=begins, begins=begins, ends=ends)
        self._note(ends, place)

    def _end(self, place: Place, now: int) -> None:
        j, s = place
        for later, step in enumerate(self.jobs[j].steps):
            if s not in step.after:
                continue
            self.missing[j, later] -= 1
            if self.missing[j, later] == 0:
                self._note(now, (j, later))
        self.left[j] -= 1
        if self.left[j] == 0:
            self.ready[j] = now
            late = lateness(self.jobs[j], now)
            if late is not None:
                self.latest = max(self.latest, late)
            self._follow(j)

    def _follow(self, j: int) -> None:
        """Start the set's next way as planned, or later when the case between had to wait for the set."""
        later = self.next_way.get(j)
        if later is not None:
            self._release(later, max(self.jobs[later].released, self.ready[j] + self.jobs[later].away))

    def _begin_one(self, station: str, now: int) -> bool:
        """Start one load if the station can; if not, note when to look again."""
        queue = self.queues[station]
        choice = queue.choose(now)
        if self.record:
            for place in choice.held:
                self.record.held.setdefault(place, now)
        for at in choice.look_again:
            self._note(at, station)
        if not choice.members:
            return False
        ends = queue.over(choice.members, now)
        self._load(queue, (now, ends), choice.members)
        return True

    def _load(self, queue: StationQueue, span: tuple[int, int], places: Sequence[Place]) -> None:
        _, ends = span
        machine = queue.take_machine(ends)
        if self.record:
            self.record.load(queue, machine, span, places)
        for place in places:
            self._note(ends, place)

    def _take_up_what_runs(self) -> None:
        """Steps under way at the first moment keep their machines; sets started together share a load."""
        under_way: dict[tuple[str, int, str], list[Place]] = defaultdict(list)
        for j, job in enumerate(self.jobs):
            for s, step in enumerate(job.steps):
                if step.started is not None:
                    under_way[step.station, step.started, step.cycle].append((j, s))
        for (station, started, _), places in sorted(under_way.items()):
            for place in places:
                del self.missing[place]
            self._resume(self.queues[station], started, places)

    def _resume(self, queue: StationQueue, started: int, places: Sequence[Place]) -> None:
        size = queue.station.per_load
        for start in range(0, len(places), size):
            members = places[start : start + size]
            ends = max(started + queue.longest(members), self.shop.now)
            self._load(queue, (started, ends), members)


def _coming(jobs: Sequence[DepartmentJob]) -> defaultdict[str, Counter[str]]:
    """How many sets have still to come to each station for each cycle."""
    coming: defaultdict[str, Counter[str]] = defaultdict(Counter)
    for job in jobs:
        for step in job.steps:
            if step.started is None:
                coming[step.station][step.cycle] += 1
    return coming
