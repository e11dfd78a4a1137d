"""The terms of the forward run: sets as jobs, their steps, and the result of each, in whole minutes.

Minutes are whole minutes since the epoch, as in ``sets.calendar``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from picklist.sets.calendar import Calendar

NEVER = 10**9

Place = tuple[int, int]  # a job and a step of it


@dataclass(frozen=True, slots=True, kw_only=True)
class JobStep:
    """A step that a set still has to take.

    ``after``: places of the steps it waits for in the job's ``steps``. ``deadline``: the latest
    end that still makes the set ready in time. ``started``: when it started, for a step under way.
    """

    name: str
    minutes: int
    after: tuple[int, ...] = ()
    station: str = ""
    run: str = ""
    cycle: str = ""
    deadline: int | None = None
    started: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DepartmentJob:
    """A set on one way through the department.

    ``alone``: when it would be ready with the department to itself. ``follows``: the place of the
    same set's way before this one; the case between waits for its set, so this way begins no
    sooner than ``away`` minutes after that one is over.
    """

    set_id: str
    tray: str
    from_case: str
    for_case: str
    released: int
    due: int | None
    steps: tuple[JobStep, ...]
    alone: int = 0
    follows: int | None = None
    away: int = 0

    @property
    def is_without_hope(self) -> bool:
        """Whether the set could not be in time even with the department to itself."""
        return self.due is not None and self.alone > self.due


@dataclass(frozen=True, slots=True, kw_only=True)
class JobGroup:
    """Jobs that share no station and no set with others, and their ``places`` among all jobs.

    ``follows`` of the jobs counts within the group.
    """

    jobs: tuple[DepartmentJob, ...]
    places: tuple[int, ...]

    @property
    def stations(self) -> frozenset[str]:
        """The stations that the jobs go through."""
        return frozenset(step.station for job in self.jobs for step in job.steps if step.station)


@dataclass(frozen=True, slots=True, kw_only=True)
class StepVisit:
    """A step of a set in the run: when the set arrived, started and ended.

    ``alone``: when it would have started with the station to itself; ``held``: since when it was
    held for a fuller load.
    """

    arrives: int
    alone: int
    begins: int
    ends: int
    machine: int = 0
    load: str = ""
    held: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StationLoad:
    """A load as it ran; members are places of (job, step)."""

    id: str
    station: str
    machine: int
    cycle: str
    begins: int
    ends: int
    members: tuple[Place, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RunOutcome:
    """A whole forward run: visits by (job, step), loads in the order in which they started.

    ``ready``: the minute at which each job was (``NEVER`` where some station never takes it).
    """

    visits: dict[Place, StepVisit]
    batches: tuple[StationLoad, ...]
    released: tuple[int, ...]
    ready: tuple[int, ...]


class Times(Protocol):
    """When a step of so many minutes may begin at a station or on a run; ``NEVER`` when not at all."""

    def begin(self, station: str, run: str, minutes: int, at: int) -> int:
        """The first moment from ``at`` on at which it may start."""

    def end(self, station: str, run: str, minutes: int, begins: int) -> int:
        """When a step started then is done and unloaded."""


class CalendarTimes:
    """Working hours, fixed starts and departures of a calendar, with ``NEVER`` for no turn at all."""

    def __init__(self, calendar: Calendar) -> None:
        self._calendar = calendar

    def begin(self, station: str, run: str, minutes: int, at: int) -> int:
        """The first moment from ``at`` at which a step of ``minutes`` may begin."""
        if at >= NEVER:
            return NEVER
        start_slots = self._calendar.start_slots(station, run, minutes)
        if start_slots is None:
            return at
        begins = start_slots.begin_from(at)
        return NEVER if begins is None else begins

    def end(self, station: str, run: str, minutes: int, begins: int) -> int:
        """When a step started then is done and unloaded."""
        if begins >= NEVER:
            return NEVER
        start_slots = self._calendar.start_slots(station, run, minutes)
        ends = begins + minutes if start_slots is None else start_slots.end(begins)
        return NEVER if ends is None else ends
