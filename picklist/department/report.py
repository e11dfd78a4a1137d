"""Turn a forward run into what the plan keeps: sets with their waits, loads, and stations over time."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence

from picklist.department.run_terms import NEVER, DepartmentJob, JobStep, RunOutcome, StationLoad, StepVisit
from picklist.grouping import grouped
from picklist.model.department import DepartmentRun, Load, SetRun, StationHour, StepRun, Wait, WaitKind
from picklist.model.routes import Station
from picklist.sets.calendar import instant_of

QUARTER = 15
EARLIEST_DEADLINE = "earliest deadline"  # what stations go by, as the worklist says it


class Reporter:
    """Turns the result of a run into what the plan keeps, in instants."""

    def __init__(self, jobs: Sequence[DepartmentJob], outcome: RunOutcome, stations: Mapping[str, Station]) -> None:
        self.jobs = jobs
        self.outcome = outcome
        self.stations = stations

    def describe(self, now: int, hold: Mapping[str, int]) -> DepartmentRun:
        """The run as a whole; a set that some station never takes is left out."""
        runs = tuple(self._set_run(j) for j in self._in_order() if self.outcome.ready[j] < NEVER)
        return DepartmentRun(
            rule=EARLIEST_DEADLINE,
            held=tuple(sorted(hold.items())),
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
            waits=tuple(self._waits(step, visit)),
            queued=visit.begins - visit.alone,
            load=visit.load,
        )

    def _waits(self, step: JobStep, visit: StepVisit) -> Iterable[Wait]:
        """For the calendar, for a machine, and for a fuller load."""
        turn = visit.alone - visit.arrives
        if turn > 0:
            kind = WaitKind.RUN if step.run else self._kind_of_turn(step.station)
            yield Wait(kind=kind, minutes=turn, name=step.run or step.station, until=instant_of(visit.alone))
        held = visit.begins if visit.held is None else max(visit.held, visit.alone)
        if held > visit.alone:
            yield Wait(kind=WaitKind.MACHINE, minutes=held - visit.alone, name=step.station, machine=visit.machine)
        if visit.begins > held:
            yield Wait(kind=WaitKind.FULLER, minutes=visit.begins - held, name=step.station, machine=visit.machine)

    def _kind_of_turn(self, name: str) -> WaitKind:
        """What a set waits for at a station that is free: its next start, or its opening."""
        station = self.stations.get(name)
        fixed = station is not None and (station.start_every > 1 or station.start_times)
        return WaitKind.START if fixed else WaitKind.OPENING

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
        spans = grouped((batch.station, (batch.begins, batch.ends)) for batch in self.outcome.batches)
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
