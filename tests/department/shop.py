# ruff: noqa: ARG002 - these stations answer without looking
"""Short words for a shop without hours: stations that always work, sets with steps of so many minutes."""

from __future__ import annotations

from collections.abc import Sequence

from picklist.department.forward import Shop
from picklist.department.run_terms import NEVER, DepartmentJob, JobStep
from picklist.model.routes import Station


class AlwaysOpen:
    """Every station begins whenever it is asked to."""

    def begin(self, station: str, run: str, minutes: int, at: int) -> int:
        return at

    def end(self, station: str, run: str, minutes: int, begins: int) -> int:
        return begins + minutes


class Closed(AlwaysOpen):
    """One station never works."""

    def __init__(self, station: str) -> None:
        self.closed = station

    def begin(self, station: str, run: str, minutes: int, at: int) -> int:
        return NEVER if station == self.closed else at


def shop(*stations: Station, **hold: int) -> Shop:
    return Shop(now=0, stations={s.id: s for s in stations}, times=AlwaysOpen(), hold=hold)


def job(
    name: str, *steps: tuple[str, int], released: int = 0, due: int | None = None, cycle: str = ""
) -> DepartmentJob:
    """A set whose steps follow each other; each step's deadline is the due time less what comes after."""
    made = []
    for place, (station, minutes) in enumerate(steps):
        rest = sum(m for _, m in steps[place + 1 :])
        made.append(
            JobStep(
                name=f"step {place + 1}",
                minutes=minutes,
                after=(place - 1,) if place else (),
                station=station,
                cycle=cycle,
                deadline=None if due is None else due - rest,
            )
        )
    return DepartmentJob(
        set_id=name, tray="T", from_case="", for_case="", released=released, due=due, steps=tuple(made)
    )


def lateness(jobs: Sequence[DepartmentJob], ready: Sequence[int]) -> int:
    """The greatest lateness; negative when all are early."""
    return max(end - one.due for one, end in zip(jobs, ready, strict=True) if one.due is not None)
