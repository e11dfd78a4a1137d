"""Why a set is ready when it is: its way through the department in words."""

from __future__ import annotations

from picklist.clock import SiteClock, minutes_between
from picklist.model.department import DepartmentRun, SetRun, StepRun


def explain_set(run: DepartmentRun, set_id: str, clock: SiteClock) -> tuple[str, ...]:
    """One line for each way of the set and each step of it, in order of time; empty for an unknown set."""
    ways = sorted((one for one in run.runs if one.set_id == set_id), key=lambda one: one.released)
    return tuple(line for way in ways for line in (_head(way, clock), *(_step(one, clock) for one in way.steps)))


def _head(way: SetRun, clock: SiteClock) -> str:
    start = f"from case {way.from_case}" if way.from_case else "from where it stands"
    text = f"{way.set_id} {start}, {clock.stamp(way.released)}: ready {clock.stamp(way.ready)}"
    if way.due is not None:
        text += f", for case {way.for_case} by {clock.stamp(way.due)}, {_spare(way)}"
    queue = minutes_between(way.alone_ready, way.ready)
    if queue > 0:
        text += f"; {queue} min of that because of other sets"
    return text


def _spare(way: SetRun) -> str:
    if way.late or way.due is None:
        return f"{way.late} min late"
    return f"{minutes_between(way.ready, way.due)} min to spare"


def _step(step: StepRun, clock: SiteClock) -> str:
    where = f" at {step.station} {step.machine}" if step.station else ""
    text = f"{step.step}{where}: {clock.hhmm(step.begins)} to {clock.hhmm(step.ends)}"
    if step.waited:
        text += f", waited {step.wait}"
    return text
