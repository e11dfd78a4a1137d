"""The forward run: every set through finite machines and crew, one moment after the other.

A list schedule in order of events: whenever a station may begin, it takes the waiting set that
its rule puts first, with as many others of the same cycle as the load holds. A station may hold
a load that is not full for ``hold`` minutes after its first set came, but never past the latest
beginning of a set in it, and not when no other set of the cycle is on its way.
"""

from __future__ import annotations

import heapq
from bisect import insort
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from picklist.department.rules import Rule, is_without_hope
from picklist.department.work import NEVER, Batch, Job, Outcome, Times, Visit
from picklist.model.routes import Station

Place = tuple[int, int]  # job, step
Waiting = tuple[int, bool, int, str, Place]  # the rule's key, without hope, arrival, set, place


@dataclass(frozen=True, slots=True, kw_only=True)
class Shop:
    """What a run is made under: its first minute, stations and their times, the rule, minutes to hold by station."""

    now: int
    stations: Mapping[str, Station]
    times: Times
    rule: Rule
    hold: Mapping[str, int]


def run_forward(jobs: Sequence[Job], shop: Shop) -> Outcome:
    """Run all jobs to their end. The same jobs and shop always give the same run."""
    return _Run(jobs, shop).to_the_end()


class _Run:
    """The state of one forward run."""

    def __init__(self, jobs: Sequence[Job], shop: Shop) -> None:
        self.jobs = jobs
        self.shop = shop
        self.events: list[tuple[int, int, Place | str]] = []  # minute, number, a step's place or a station
        self.count = 0
        self.missing = {(j, s): len(step.after) for j, job in enumerate(jobs) for s, step in enumerate(job.steps)}
        self.left = [len(job.steps) for job in jobs]
        self.ready = [job.released if not job.steps else NEVER for job in jobs]
        self.released = [job.released for job in jobs]
        self.queues: dict[str, dict[str, list[Waiting]]] = defaultdict(lambda: defaultdict(list))
        self.free = {name: list(range(1, station.machines + 1)) for name, station in shop.stations.items()}
        self.busy: dict[str, list[tuple[int, int]]] = defaultdict(list)  # ends, machine
        self.coming = Counter((step.station, step.cycle) for job in jobs for step in job.steps if step.begun is None)
        self.arrivals: dict[Place, int] = {}
        self.held: dict[Place, int] = {}
        self.visits: dict[Place, Visit] = {}
        self.batches: list[Batch] = []
        self.numbers: Counter[tuple[str, int]] = Counter()

    def to_the_end(self) -> Outcome:
        self._take_up_what_runs()
        followed = {job.follows for job in self.jobs if job.follows is not None}
        self.next_way = {job.follows: j for j, job in enumerate(self.jobs) if job.follows is not None}
        for j, job in enumerate(self.jobs):
            if job.follows is None:
                self._release(j, job.released)
            if not job.steps and j in followed:
                self._follow(j)
        while self.events:
            self._next_moment()
        return Outcome(
            visits=self.visits,
            batches=tuple(self.batches),
            released=tuple(self.released),
            ready=tuple(self.ready),
        )

    def _note(self, at: int, what: Place | str) -> None:
        """Remember to look at a step (it arrives, or ends) or at a station at that minute."""
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
            self._free_machines(station, now)
            while self._begin_one(station, now):
                pass

    def _move(self, place: Place, now: int) -> str:
        """A step arrives or ends; the station that this is to look at."""
        if place in self.missing:
            self._arrive(place, now)
        else:
            self._end(place, now)
        return self.jobs[place[0]].steps[place[1]].station

    def _release(self, j: int, at: int) -> None:
        self.released[j] = at
        for s, step in enumerate(self.jobs[j].steps):
            if not step.after and step.begun is None:
                self._note(at, (j, s))

    def _arrive(self, place: Place, now: int) -> None:
        """A step whose predecessors are over: it queues at its station, or begins where none is needed."""
        del self.missing[place]
        j, s = place
        job = self.jobs[j]
        step = job.steps[s]
        self.arrivals[place] = now
        if not step.station:
            begins = self.shop.times.begin("", step.run, step.minutes, now)
            ends = self.shop.times.end("", step.run, step.minutes, begins)
            self.visits[place] = Visit(arrives=now, alone=begins, begins=begins, ends=ends)
            self._note(ends, place)
            return
        self.coming[step.station, step.cycle] -= 1
        waiting = (self.shop.rule(job, s, now), is_without_hope(job), now, job.set_id, place)
        insort(self.queues[step.station][step.cycle], waiting)

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
            self._follow(j)

    def _follow(self, j: int) -> None:
        """The set's next way begins as planned, or later when the case between had to wait for it."""
        later = self.next_way.get(j)
        if later is not None:
            self._release(later, max(self.jobs[later].released, self.ready[j] + self.jobs[later].away))

    def _free_machines(self, station: str, now: int) -> None:
        busy = self.busy[station]
        while busy and busy[0][0] <= now:
            insort(self.free[station], heapq.heappop(busy)[1])

    def _begin_one(self, station: str, now: int) -> bool:
        """Begin one load if the station may; otherwise note when to look again."""
        kept = 0
        cycles = self.queues[station]
        for cycle in sorted((c for c in cycles if cycles[c]), key=lambda c: (cycles[c][0], c)):
            if len(self.free[station]) <= kept:
                return False
            members, look_again = self._compose(station, cycle, now)
            if not members:
                self._note(look_again, station)
                continue
            if look_again > now:
                self._hold(station, members, now, look_again)
                kept += 1
                continue
            self._begin(station, cycle, members, now)
            return True
        return False

    def _compose(self, station: str, cycle: str, now: int) -> tuple[list[Waiting], int]:
        """The load that could begin now, and until when it should be held; or none, and when to look again."""
        per_load = self.shop.stations[station].per_load
        members: list[Waiting] = []
        first = NEVER
        for waiting in self.queues[station][cycle]:
            begins = self._may_begin(waiting[4], now)
            if begins == now:
                members.append(waiting)
                if len(members) == per_load:
                    return members, now
            else:
                first = min(first, begins)
        if not members:
            return [], first
        return members, self._hold_until(station, cycle, members)

    def _hold_until(self, station: str, cycle: str, members: list[Waiting]) -> int:
        if self.coming[station, cycle] <= 0:
            return 0
        until = min(waiting[2] for waiting in members) + self.shop.hold.get(station, 0)
        longest = self._longest([waiting[4] for waiting in members])
        for *_, (j, s) in members:
            deadline = self.jobs[j].steps[s].deadline
            if deadline is not None:
                until = min(until, deadline - longest)
        return until

    def _hold(self, station: str, members: list[Waiting], now: int, until: int) -> None:
        self._note(until, station)
        for *_, place in members:
            self.held.setdefault(place, now)

    def _may_begin(self, place: Place, at: int) -> int:
        step = self.jobs[place[0]].steps[place[1]]
        return self.shop.times.begin(step.station, step.run, step.minutes, at)

    def _longest(self, places: list[Place]) -> int:
        return max(self.jobs[j].steps[s].minutes for j, s in places)

    def _over(self, places: list[Place], begins: int) -> int:
        """When a load begun then is over and unloaded: its longest member counts."""
        j, s = places[0]
        step = self.jobs[j].steps[s]
        return self.shop.times.end(step.station, step.run, self._longest(places), begins)

    def _begin(self, station: str, cycle: str, members: list[Waiting], now: int) -> None:
        queue = self.queues[station][cycle]
        for waiting in members:
            queue.remove(waiting)
        places = [waiting[4] for waiting in members]
        ends = self._over(places, now)
        self._load(station, self._take_machine(station, ends), (now, ends), places)

    def _take_machine(self, station: str, ends: int) -> int:
        """A free machine until it ends. More records of running loads than machines share the last one."""
        if not self.free[station]:
            return self.shop.stations[station].machines
        machine = self.free[station].pop(0)
        heapq.heappush(self.busy[station], (ends, machine))
        return machine

    def _load(self, station: str, machine: int, span: tuple[int, int], places: list[Place]) -> None:
        begins, ends = span
        self.numbers[station, machine] += 1
        name = f"{station} {machine} load {self.numbers[station, machine]}"
        cycle = self.jobs[places[0][0]].steps[places[0][1]].cycle
        batch = Batch(
            id=name,
            station=station,
            machine=machine,
            cycle=cycle,
            begins=begins,
            ends=ends,
            members=tuple(places),
        )
        self.batches.append(batch)
        for place in places:
            self._put_in(place, batch)

    def _put_in(self, place: Place, batch: Batch) -> None:
        arrives = self.arrivals.get(place, batch.begins)
        step = self.jobs[place[0]].steps[place[1]]
        alone = batch.begins if step.begun is not None else self._may_begin(place, arrives)
        self.visits[place] = Visit(
            arrives=arrives,
            alone=alone,
            begins=batch.begins,
            ends=batch.ends,
            machine=batch.machine,
            load=batch.id,
            held=self.held.get(place),
        )
        self._note(batch.ends, place)

    def _take_up_what_runs(self) -> None:
        """Steps under way at the first moment keep their machines; sets begun together share a load."""
        under_way: dict[tuple[str, int, str], list[Place]] = defaultdict(list)
        for j, job in enumerate(self.jobs):
            for s, step in enumerate(job.steps):
                if step.begun is not None:
                    under_way[step.station, step.begun, step.cycle].append((j, s))
        for station, begun, cycle in sorted(under_way):
            places = under_way[station, begun, cycle]
            for place in places:
                del self.missing[place]
            self._resume(station, begun, places)

    def _resume(self, station: str, begun: int, places: list[Place]) -> None:
        if not station:
            for j, s in places:
                ends = max(begun + self.jobs[j].steps[s].minutes, self.shop.now)
                self.visits[j, s] = Visit(arrives=begun, alone=begun, begins=begun, ends=ends)
                self._note(ends, (j, s))
            return
        size = self.shop.stations[station].per_load
        for start in range(0, len(places), size):
            members = places[start : start + size]
            ends = max(begun + self._longest(members), self.shop.now)
            self._load(station, self._take_machine(station, ends), (begun, ends), members)
