"""A set's way through the department: as the forward run predicts it, else as its route was walked."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from picklist.clock import SiteClock
from picklist.documents.board.index import BoardIndex
from picklist.model.department import SetRun, StepRun, headline
from picklist.model.uses import Deadline, Pace, Reuse, StepTime
from picklist.wording.say_department import waiting


@dataclass(frozen=True, slots=True, kw_only=True)
class WayStep:
    """One step with the wait before it."""

    step: str
    station: str
    arrives: datetime
    begins: datetime
    ends: datetime
    wait: str  # minutes and what for; empty for none


@dataclass(frozen=True, slots=True, kw_only=True)
class SetWay:
    """From release to ready; ``received``: in decontamination.

    ``due`` and ``deadlines`` come from the use that waits; ``predicted``: with the queues. ``ready`` is
    the time that every paper says, at ``pace``; ``queue_ready`` that of the department's run, None without one.
    """

    giver: str
    waiter: str
    released: datetime
    received: datetime
    ready: datetime
    pace: Pace
    queue_ready: datetime | None
    unopened_ready: datetime | None
    due: datetime | None
    predicted: bool
    steps: tuple[WayStep, ...]
    deadlines: tuple[Deadline, ...]


def way_of(index: BoardIndex, set_id: str, giver: str) -> SetWay | None:
    """The way of a set after a case (empty: from its state now); None when it has none on the board."""
    run = index.runs.get((set_id, giver))
    reuse = next((one for one in index.plan.reuses if one.set_id == set_id and one.giver == giver), None)
    way = _predicted(run, reuse, index.found.clock) if run else walked(reuse) if reuse else None
    return way if way and index.axis.shows(way.released, way.ready) else None


def _predicted(run: SetRun, reuse: Reuse | None, clock: SiteClock) -> SetWay:
    ready = headline(reuse, run)
    return SetWay(
        giver=run.from_case,
        waiter=run.for_case,
        released=run.released,
        received=run.received,
        ready=ready.at,
        pace=ready.pace,
        queue_ready=run.ready,
        unopened_ready=reuse.if_unopened_ready if reuse else None,
        due=run.due,
        predicted=True,
        steps=tuple(sorted((_step_run(one, clock) for one in run.steps), key=lambda one: one.begins)),
        deadlines=reuse.deadlines if reuse else (),
    )


def walked(reuse: Reuse) -> SetWay:
    """A set's way at usual pace, from which its deadlines are counted."""
    return SetWay(
        giver=reuse.giver,
        waiter=reuse.waiter,
        released=reuse.released,
        received=reuse.received,
        ready=reuse.ready,
        pace=Pace.USUAL,
        queue_ready=None,
        unopened_ready=reuse.if_unopened_ready,
        due=reuse.needed,
        predicted=False,
        steps=tuple(sorted((_step_time(one) for one in reuse.walk.steps), key=lambda one: one.begins)),
        deadlines=reuse.deadlines,
    )


def _step_run(one: StepRun, clock: SiteClock) -> WayStep:
    return WayStep(
        step=one.step,
        station=one.station,
        arrives=one.arrives,
        begins=one.begins,
        ends=one.ends,
        wait=waiting(one, clock),
    )


def _step_time(one: StepTime) -> WayStep:
    return WayStep(
        step=one.step,
        station=one.station,
        arrives=one.begins,
        begins=one.begins,
        ends=one.ends,
        wait="",
    )
