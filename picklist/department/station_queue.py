"""One station in the run: which sets wait there, which machines are free, and what it can start now."""

from __future__ import annotations

import heapq
from bisect import insort
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from picklist.department.run_terms import NEVER, DepartmentJob, JobStep, Place, Times
from picklist.model.routes import Station

# Deadline of the step, without hope, arrival, set, place: of equal deadlines a set that can still be in time goes
# before one that could not be, even alone.
Waiting = tuple[int, bool, int, str, Place]


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """What a station does at a moment: the load it starts (empty: none), or when to look again.

    ``held``: steps kept waiting for a fuller load.
    """

    members: tuple[Place, ...] = ()
    look_again: tuple[int, ...] = ()
    held: tuple[Place, ...] = ()


class StationQueue:
    """A station's queues by cycle and its machines.

    ``hold``: minutes that a load waits for a fuller one. ``coming``: by cycle, the sets still on their way here.
    """

    def __init__(
        self, station: Station, jobs: Sequence[DepartmentJob], times: Times, hold: int, coming: Counter[str]
    ) -> None:
        self.station = station
        self.jobs = jobs
        self.times = times
        self.hold = hold
        self.free = list(range(1, station.machines + 1))
        self.busy: list[tuple[int, int]] = []  # ends, machine
        self.queues: dict[str, list[Waiting]] = defaultdict(list)
        self.coming = coming

    def enter(self, place: Place, now: int) -> None:
        """A set has come and waits."""
        job, step = self.jobs[place[0]], self.step(place)
        self.coming[step.cycle] -= 1
        deadline = NEVER if step.deadline is None else step.deadline
        insort(self.queues[step.cycle], (deadline, job.is_without_hope, now, job.set_id, place))

    def choose(self, now: int) -> Choice:
        """Free machines that are done, and take the first load that can start now.

        A cycle whose load is held keeps a machine back, so that no other takes its place.
        """
        self._free_machines(now)
        look_again: list[int] = []
        held: list[Place] = []
        kept = 0
        for cycle in sorted((c for c, queue in self.queues.items() if queue), key=self._first_in_turn):
            if len(self.free) <= kept:
                break
            waiting, until = self._compose(cycle, now)
            if waiting and until <= now:
                self.queues[cycle] = [one for one in self.queues[cycle] if one not in waiting]
                return Choice(members=tuple(one[4] for one in waiting), held=tuple(held))
            look_again.append(until)
            held += [one[4] for one in waiting]
            kept += bool(waiting)
        return Choice(look_again=tuple(look_again), held=tuple(held))

    def take_machine(self, ends: int) -> int:
        """A free machine until it ends. More records of running loads than machines share the last one."""
        if not self.free:
            return self.station.machines
        machine = self.free.pop(0)
        heapq.heappush(self.busy, (ends, machine))
        return machine

    def step(self, place: Place) -> JobStep:
        """The step at a place."""
        return self.jobs[place[0]].steps[place[1]]

    def may_begin(self, place: Place, at: int) -> int:
        """When a step may start by working hours, fixed starts and transport runs."""
        step = self.step(place)
        return self.times.begin(step.station, step.run, step.minutes, at)

    def longest(self, places: Sequence[Place]) -> int:
        """A load takes as long as its longest member."""
        return max(self.step(place).minutes for place in places)

    def over(self, places: Sequence[Place], begins: int) -> int:
        """When a load started then is done and unloaded."""
        step = self.step(places[0])
        return self.times.end(step.station, step.run, self.longest(places), begins)

    def _first_in_turn(self, cycle: str) -> tuple[Waiting, str]:
        return self.queues[cycle][0], cycle

    def _free_machines(self, now: int) -> None:
        while self.busy and self.busy[0][0] <= now:
            insort(self.free, heapq.heappop(self.busy)[1])

    def _compose(self, cycle: str, now: int) -> tuple[list[Waiting], int]:
        """The load that could start now and until when to hold it; or none, and when to look again."""
        members: list[Waiting] = []
        first = NEVER
        for waiting in self.queues[cycle]:
            begins = self.may_begin(waiting[4], now)
            if begins == now:
                members.append(waiting)
                if len(members) == self.station.per_load:
                    return members, now
            else:
                first = min(first, begins)
        return (members, self._hold_until(cycle, members)) if members else ([], first)

    def _hold_until(self, cycle: str, members: Sequence[Waiting]) -> int:
        if self.coming[cycle] <= 0:
            return 0
        until = min(waiting[2] for waiting in members) + self.hold
        longest = self.longest([waiting[4] for waiting in members])
        deadlines = (self.step(waiting[4]).deadline for waiting in members)
        return min([until, *(deadline - longest for deadline in deadlines if deadline is not None)])
