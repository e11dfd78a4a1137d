"""Work out by when each act must be done so that a set is on its next cart in time."""

from __future__ import annotations

from datetime import datetime

from picklist.clock import shift
from picklist.model.routes import Step
from picklist.model.uses import TRANSFER_BACK, Act, Deadline, Walk, end_of, start_of
from picklist.sets.timed_route import TimedRoute
from picklist.sets.walk import last_steps

TRANSFER = "transfer to "

_Act = tuple[str, str, datetime]  # act, station, latest


def make_deadlines(
    usual: TimedRoute,
    least: TimedRoute,
    needed: datetime,
    before: tuple[tuple[str, int], ...] = (),
    under_way: tuple[str, ...] = (),
) -> tuple[Deadline, ...] | None:
    """The deadlines of a route walked backwards at both paces, in order of time.

    ``before`` are acts that come before the steps, with the minutes from each until the steps
    start. Steps ``under_way`` have a deadline for their end only. None when a step cannot start
    early enough within the horizon.
    """
    late, last = usual.walk_before(needed), least.walk_before(needed)
    if late is None or last is None:
        return None
    acts = _acts(usual.steps, late, before, under_way)
    resorts = _acts(least.steps, last, before, under_way)
    paired = [
        Deadline(act=act, station=station, latest=latest, last_resort=resort)
        for (act, station, latest), (_, _, resort) in zip(acts, resorts, strict=True)
    ]
    return tuple(sorted(paired, key=lambda one: one.latest))


def _acts(
    steps: tuple[Step, ...], walk: Walk, before: tuple[tuple[str, int], ...], under_way: tuple[str, ...]
) -> list[_Act]:
    begins = {time.step: time.begins for time in walk.steps}
    backs = [step for step in steps[:1] if step.name.startswith(TRANSFER_BACK)]
    transfers = [step for step in steps[-1:] if step.name.startswith(TRANSFER)]
    proper = steps[len(backs) : len(steps) - len(transfers)]
    received = _end_by(backs[0], steps, begins, walk.ready) if backs else walk.released
    acts: list[_Act] = [
        (act, "", received if act == Act.INTO_DECONTAMINATION else shift(walk.released, -minutes))
        for act, minutes in before
    ]
    acts += [(start_of(step.name, step.run), step.station, begins[step.name]) for step in backs]
    ended = {step.name for step in last_steps(proper)} | set(under_way)
    for step in proper:
        if step.name not in under_way:
            acts.append((start_of(step.name, step.run), step.station, begins[step.name]))
        if step.name in ended:
            acts.append((end_of(step.name), step.station, _end_by(step, steps, begins, walk.ready)))
    acts += [(start_of(step.name, step.run), step.station, begins[step.name]) for step in transfers]
    return [*acts, (Act.ON_CART, "", walk.ready)]


def _end_by(step: Step, steps: tuple[Step, ...], begins: dict[str, datetime], needed: datetime) -> datetime:
    """The latest end of a step: the earliest latest start among the steps that wait for it."""
    return min((begins[later.name] for later in steps if step.name in later.after), default=needed)
