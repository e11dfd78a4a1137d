"""Turn a forward run into what the plan keeps: sets with their waits, loads, and stations over time.

Also explains the run of one set, step by step.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence

from picklist.clock import SiteClock, minutes_between
from picklist.department.run_terms import NEVER, DepartmentJob, JobStep, RunOutcome, StationLoad, StepVisit
from picklist.model.department import DepartmentRun, Load, SetRun, StationHour, StepRun, headline
from picklist.model.routes import Station
from picklist.model.uses import Pace, Reuse
from picklist.sets.calendar import instant_of
from picklist.wording import at_pace, span, to_spare

QUARTER = 15


class Reporter:
    """Turns the result of a run into the words and instants of the plan."""

    def __init__(
        self, jobs: Sequence[DepartmentJob], outcome: RunOutcome, stations: Mapping[str, Station], clock: SiteClock
    ) -> None:
        self.jobs = jobs
        self.outcome = outcome
        self.stations = stations
        self.clock = clock

    def describe(self, rule: str, now: int) -> DepartmentRun:
        """The run as a whole; a set that some station never takes is left out."""
        runs = tuple(self._set_run(j) for j in self._in_order() if self.outcome.ready[j] < NEVER)
        return DepartmentRun(
            rule=rule,
            runs=runs,
            loads=tuple(self._load(batch) for batch in sorted(self.outcome.batches, key=_station_then_time)),
            hours=tuple(self._hours(now)),
            greatest_lateness=max((run.late for run in runs), default=0),
        )

    def _in_order(self) -> list[int]:
        ready = self.outcome.ready
        return sorted(range(len(self.jobs)), key=lambda j: (ready[j], self.jobs[j].set_id, j))

    def _set_run(self, j: int) -> SetRun:
        job = self.jobs[j]
        ready = self.outcome.ready[j]
        return SetRun(
            set_id=job.set_id,
            tray=job.tray,
            from_case=job.from_case,
            for_case=job.for_case,
            released=instant_of(self.outcome.released[j]),
            ready=instant_of(ready),
            due=None if job.due is None else instant_of(job.due),
            late=0 if job.due is None else max(0, ready - job.due),
            alone_ready=instant_of(job.alone),
            steps=tuple(self._step_run(step, self.outcome.visits[j, s]) for s, step in enumerate(job.steps)),
        )

    def _step_run(self, step: JobStep, visit: StepVisit) -> StepRun:
        return StepRun(
            step=step.name,
            station=step.station,
            machine=visit.machine,
            arrives=instant_of(visit.arrives),
            begins=instant_of(visit.begins),
            ends=instant_of(visit.ends),
            waited=visit.begins - visit.arrives,
            waited_for=self._waited_for(step, visit),
            queued=visit.begins - visit.alone,
            load=visit.load,
        )

    def _waited_for(self, step: JobStep, visit: StepVisit) -> str:
        parts = [(minutes, what) for minutes, what in self._waits(step, visit) if minutes > 0]
        if len(parts) == 1:
            return parts[0][1]
        return ", then ".join(f"{minutes} min for {what}" for minutes, what in parts)

    def _waits(self, step: JobStep, visit: StepVisit) -> Iterable[tuple[int, str]]:
        """Minutes for the calendar, for a machine, and for a fuller load, each with what it is."""
        turn = self.clock.hhmm(instant_of(visit.alone))
        station = self.stations.get(step.station)
        if step.run:
            yield visit.alone - visit.arrives, f"{step.run} to leave at {turn}"
        elif station is not None and (station.start_every > 1 or station.start_times):
            yield visit.alone - visit.arrives, f"the {turn} start of {step.station}"
        else:
            yield visit.alone - visit.arrives, f"{step.station} to open at {turn}"
        held = visit.begins if visit.held is None else max(visit.held, visit.alone)
        yield held - visit.alone, f"{step.station} {visit.machine}"
        yield visit.begins - held, f"a fuller load in {step.station} {visit.machine}"

    def _load(self, batch: StationLoad) -> Load:
        members = [self.jobs[j] for j, _ in batch.members]
        dues = [job.due for job in members if job.due is not None]
        return Load(
            id=batch.id,
            station=batch.station,
            machine=batch.machine,
            cycle=batch.cycle,
            begins=instant_of(batch.begins),
            ends=instant_of(batch.ends),
            sets=tuple(job.set_id for job in sorted(members, key=_due_first)),
            first_due=instant_of(min(dues)) if dues else None,
        )

    def _hours(self, now: int) -> Iterable[StationHour]:
        """Each station in each quarter of an hour from now to the end of its last load."""
        waits: dict[str, list[tuple[int, int]]] = defaultdict(list)
        for (j, s), visit in self.outcome.visits.items():
            waits[self.jobs[j].steps[s].station].append((visit.arrives, visit.begins))
        spans: dict[str, list[tuple[int, int]]] = defaultdict(list)
        for batch in self.outcome.batches:
            spans[batch.station].append((batch.begins, batch.ends))
        for station in sorted(spans):
            last = max(ends for _, ends in spans[station])
            quarters = range(now // QUARTER * QUARTER, last, QUARTER)
            busy = _minutes_in(quarters, spans[station])
            waiting = _number_at(quarters, waits[station])
            for place, quarter in enumerate(quarters):
                yield StationHour(
                    station=station,
                    begins=instant_of(quarter),
                    busy=round(busy[place] / QUARTER, 3),
                    waiting=waiting[place],
                )


def _minutes_in(quarters: range, spans: Iterable[tuple[int, int]]) -> list[int]:
    """Machine minutes that fall into each quarter."""
    found = [0] * len(quarters)
    for begins, ends in spans:
        first = max(0, (begins - quarters.start) // QUARTER)
        for place in range(first, min(len(quarters), (ends - 1 - quarters.start) // QUARTER + 1)):
            quarter = quarters[place]
            found[place] += min(ends, quarter + QUARTER) - max(begins, quarter)
    return found


def _number_at(quarters: range, waits: Iterable[tuple[int, int]]) -> list[int]:
    """How many wait at the start of each quarter: arrived by then, not started."""
    found = [0] * len(quarters)
    for arrives, begins in waits:
        first = max(0, -((quarters.start - arrives) // QUARTER))
        for place in range(first, min(len(quarters), -((quarters.start - begins) // QUARTER))):
            found[place] += 1
    return found


def _station_then_time(batch: StationLoad) -> tuple[str, int, int]:
    return batch.station, batch.begins, batch.machine


def _due_first(job: DepartmentJob) -> tuple[int, str]:
    return (NEVER if job.due is None else job.due), job.set_id


def explain_set(run: DepartmentRun, reuses: Iterable[Reuse], set_id: str, clock: SiteClock) -> tuple[str, ...]:
    """One line for each way of the set and each step of it, in order of time; empty for an unknown set."""
    ways = sorted((one for one in run.runs if one.set_id == set_id), key=lambda one: one.released)
    known = {one.waiter: one for one in reuses if one.set_id == set_id}
    return tuple(
        line
        for way in ways
        for line in (_head(way, known.get(way.for_case), clock), *(_step(one, clock) for one in way.steps))
    )


def _head(way: SetRun, reuse: Reuse | None, clock: SiteClock) -> str:
    """The ready time that every paper says, then that of today's queue, by which the steps below it stand."""
    start = f"from case {way.from_case}" if way.from_case else "from where it stands"
    ready = headline(reuse, way)
    text = f"{way.set_id} {start}, {clock.stamp(way.released)}: ready {at_pace(clock.stamp(ready.at), ready.pace)}"
    if way.due is not None:
        text += f", for case {way.for_case} by {clock.stamp(way.due)}, {to_spare(ready.slack)}"
    if ready.pace is not Pace.QUEUE:
        text += f"; {at_pace(clock.stamp(way.ready), Pace.QUEUE)}"
    queue = minutes_between(way.alone_ready, way.ready)
    if queue > 0:
        text += f", {span(queue)} of that because of other sets"
    return text


def _step(step: StepRun, clock: SiteClock) -> str:
    where = f" at {step.station} {step.machine}" if step.station else ""
    text = f"{step.step}{where}: {clock.hhmm(step.begins)} to {clock.hhmm(step.ends)}"
    if step.waited:
        text += f", waited {step.wait}"
    return text
