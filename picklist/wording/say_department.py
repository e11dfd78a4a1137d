"""What the department does with a set, in words: each step of its run, and what it waits for."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta

from picklist.clock import SiteClock, minutes_between, short_day
from picklist.model.department import DepartmentRun, SetRun, StepRun, Wait, WaitKind, headline
from picklist.model.uses import Pace, Reuse
from picklist.wording.quantities import at_pace, span, to_spare


def waiting(step: StepRun, clock: SiteClock) -> str:
    """How long a set waits before a step and what for: ``7 min for washers 2``; empty when it does not wait."""
    if not step.waits:
        return span(step.waited) if step.waited else ""
    return ", then ".join(f"{span(wait.minutes)} for {waits_for(wait, clock)}" for wait in step.waits)


def waits_for(wait: Wait, clock: SiteClock) -> str:
    """What a set waits for: ``washers to open at 06:00``."""
    until = clock.hhmm(wait.until) if wait.until else ""
    match wait.kind:
        case WaitKind.RUN:
            return f"{wait.name} to leave at {until}"
        case WaitKind.START:
            return f"the {until} start of {wait.name}"
        case WaitKind.OPENING:
            return f"{wait.name} to open at {until}"
        case WaitKind.MACHINE:
            return f"{wait.name} {wait.machine}"
        case WaitKind.FULLER:
            return f"a fuller load in {wait.name} {wait.machine}"


def list_ends(day: date, later: int) -> str:
    """Where a day's worklist ends, and who has the loads of this plan that start later."""
    if not later:
        return "It ends at midnight; no load starts later."
    next_day = short_day(day + timedelta(days=1))
    return f"It ends at midnight; the worklist of {next_day} has the later loads, {later} so far."


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
    start = f"from case {way.from_case}" if way.from_case else "from where it is"
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
    return f"{text}, waited {waiting(step, clock)}" if step.waited else text
