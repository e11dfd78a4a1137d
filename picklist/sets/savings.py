"""Find where minutes could be saved on a set's route, and until when that decision still helps."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from picklist.model.conflicts import Saving
from picklist.model.routes import Step
from picklist.model.uses import Pace, Reuse, Use
from picklist.sets.planning_context import PlanningContext
from picklist.sets.states import Availability, is_in_date


def way_steps(context: PlanningContext, state: Availability, after: Use | None, waiter: Use) -> tuple[Step, ...]:
    """The steps that a set walks to a use after another or from its state, without a transfer to the use."""
    if after is not None:
        return context.turnaround.steps_after(state.tray, after.building, state.home) or ()
    return () if is_in_date(state, waiter) else state.steps


def savings_of(steps: tuple[Step, ...], reuse: Reuse) -> tuple[Saving, ...]:
    """Steps with more usual than least minutes, in the order in which they begin."""
    begins = {time.step: time.begins for time in reuse.walk.steps}
    saved = [
        Saving(step=step.name, station=step.station, minutes=step.usual_minutes - step.least_minutes)
        for step in steps
        if step.usual_minutes > step.least_minutes
    ]
    return tuple(sorted(saved, key=lambda one: (begins.get(one.step, reuse.ready), one.step)))


def rush_by(
    context: PlanningContext, steps: tuple[Step, ...], reuse: Reuse, home: str, building: str
) -> datetime | None:
    """The start of the last step from which hurrying still makes it; None when hurrying is not enough."""
    begins = {time.step: time.begins for time in reuse.walk.steps}
    latest = None
    for moment in sorted(set(begins.values())):
        mixed = tuple(
            replace(step, usual_minutes=min(step.usual_minutes, step.least_minutes))
            if begins.get(step.name, moment) >= moment
            else step
            for step in steps
        )
        timed_route = context.turnaround.timed_route_of(mixed, Pace.USUAL, home, building)
        ready = timed_route.ready(reuse.released) if timed_route else None
        if ready is not None and ready <= reuse.needed:
            latest = moment
    return latest
