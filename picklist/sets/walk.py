"""The steps that a set takes: those of its tray's route, and those left to a set that is on its way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from picklist.model.catalogue import Tray
from picklist.model.routes import Step, StepOnlyFor
from picklist.model.site import Site
from picklist.model.uses import Pace
from picklist.sets.calendar import Calendar, minute_from
from picklist.sets.timed_route import minutes_of


def steps_for(site: Site, tray: Tray) -> tuple[Step, ...]:
    """The steps that this tray takes; empty when its route is not listed.

    Steps for implants are left out for trays that are said to hold none, or where the site
    does not let them wait; what waited for a step left out waits for what that one waited for.
    """
    route = site.routes.get(tray.route)
    if route is None:
        return ()
    if tray.implants is not False and site.settings.implants_wait:
        return route.steps
    return _without(route.steps, {step.name for step in route.steps if step.only_for is StepOnlyFor.IMPLANTS})


def begins_in_room(steps: Sequence[Step]) -> bool:
    """Whether the route starts in the operating room, so that no haul is added before it."""
    return any(step.in_room and not step.after for step in steps)


def last_steps(steps: Sequence[Step]) -> tuple[Step, ...]:
    """The steps that no other waits for."""
    waited_for = {name for step in steps for name in step.after}
    return tuple(step for step in steps if step.name not in waited_for)


@dataclass(frozen=True, slots=True, kw_only=True)
class Remaining:
    """Steps still to do, to be walked from now; ``under_way`` names those that have started."""

    steps: tuple[Step, ...]
    under_way: tuple[str, ...]


def remaining(
    steps: Sequence[Step], at_step: str, since: datetime | None, now: datetime, calendar: Calendar
) -> Remaining | None:
    """The steps still to do for a set that has been at a step since an instant, to be walked from ``now``.

    What the step waited for is done. The step keeps the minutes that it has left (none when
    it should have ended; all when ``since`` is not known). Steps beside it that waited only
    for what is done began as soon as their station let them. None for an unknown step.
    """
    by_name = {step.name: step for step in steps}
    if at_step not in by_name:
        return None
    done = _ancestors(by_name, at_step)
    started = min(since, now) if since is not None else now
    updated: list[Step] = []
    under_way: list[str] = []
    for step in _without(steps, done):
        started_step = None if step.after else _started(step, step.name == at_step, (started, now), calendar)
        updated.append(started_step or step)
        under_way += [step.name] if started_step else []
    return Remaining(steps=tuple(updated), under_way=tuple(under_way))


def _started(step: Step, recorded: bool, times: tuple[datetime, datetime], calendar: Calendar) -> Step | None:
    """A step started at the first of two instants, with the minutes left at the second; None if it cannot be."""
    usual = _left(step, Pace.USUAL, recorded, times, calendar)
    least = _left(step, Pace.LEAST, recorded, times, calendar)
    if usual is None or least is None:
        return None
    return replace(step, usual_minutes=usual, least_minutes=least, station="", run="", in_room=False)


def _left(step: Step, pace: Pace, recorded: bool, times: tuple[datetime, datetime], calendar: Calendar) -> int | None:
    """Minutes until a step is done; None when it could not start yet."""
    minutes = minutes_of(step, pace)
    start_slots = calendar.start_slots(step.station, step.run, minutes)
    since, now = (minute_from(one) for one in times)
    begin = since if start_slots is None or recorded else start_slots.begin_from(since)
    if begin is None or begin > now:
        return None
    end = begin + minutes if start_slots is None else start_slots.end(begin)
    return None if end is None else max(0, end - now)


def _without(steps: Sequence[Step], dropped: set[str]) -> tuple[Step, ...]:
    """The steps but those dropped; waiting for a dropped one becomes waiting for what it waited for."""
    stands_for: dict[str, tuple[str, ...]] = {}
    kept: list[Step] = []
    for step in steps:
        after = tuple(dict.fromkeys(name for one in step.after for name in stands_for.get(one, (one,))))
        if step.name in dropped:
            stands_for[step.name] = after
        else:
            kept.append(replace(step, after=after))
    return tuple(kept)


def _ancestors(by_name: dict[str, Step], name: str) -> set[str]:
    found: set[str] = set()
    open_names = list(by_name[name].after)
    while open_names:
        one = open_names.pop()
        if one not in found:
            found.add(one)
            open_names.extend(by_name[one].after)
    return found
