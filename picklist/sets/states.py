"""Work out when a set is usable first, from its recorded state now."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime

from picklist.clock import shift
from picklist.model.routes import Step
from picklist.model.sets import InstrumentSet, SetState
from picklist.model.uses import Act, Pace, Use
from picklist.sets.case_uses import case_times
from picklist.sets.turnaround import Turnaround, is_elsewhere
from picklist.sets.walk import remaining


@dataclass(frozen=True, slots=True, kw_only=True)
class Availability:
    """What a set's state now means for its next use.

    ``on_shelf``: recorded as ready, until ``recorded_until`` where that is known.
    ``steps`` are what it must go through from ``released`` (for a set on the shelf: its
    whole route, should its record end before the case). ``ready``/``least_ready`` by usual
    and least minutes, at its home building; None: never. ``giver`` is the running case that
    binds it; ``until``: a use must be received by then, because the loan goes back.
    ``before`` are the acts before the steps, with the minutes between them;
    ``under_way`` the steps that have started.
    """

    set_id: str
    tray: str
    from_state: str
    released: datetime
    ready: datetime | None
    least_ready: datetime | None
    on_shelf: bool = False
    steps: tuple[Step, ...] = ()
    giver: str = ""
    recorded_until: datetime | None = None
    until: datetime | None = None
    home: str = ""
    why_never: str = ""
    before: tuple[tuple[str, int], ...] = ()
    under_way: tuple[str, ...] = ()


def first_available(turnaround: Turnaround, one: InstrumentSet, now: datetime) -> Availability:
    """When a set is usable first, and why, from its recorded state; never when its sided tray's side is not."""
    tray = turnaround.site.trays.get(one.tray)
    if tray is not None and tray.sided and one.side is None:
        return _never(turnaround, one, now, "left or right is not recorded")
    return _BY_STATE[one.state](turnaround, one, now)


def ready_for(turnaround: Turnaround, state: Availability, use: Use, pace: Pace = Pace.USUAL) -> datetime | None:
    """When a set can first be there for a use, transfer included; None: never.

    A set on the shelf whose record ends before the case starts must run its route first.
    One that is in date in the same building is never late, be the need past already.
    Side and size are not looked at.
    """
    if state.why_never or (state.until is not None and use.received > state.until):
        return None
    in_date = is_in_date(state, use)
    if in_date and not is_elsewhere(state.home, use.building):
        return min(state.released, use.needed)
    steps = () if in_date else state.steps
    timed_route = turnaround.timed_route_of(steps, pace, state.home, use.building)
    return timed_route.ready(state.released) if timed_route else None


def is_in_date(state: Availability, use: Use) -> bool:
    """Whether a set stands on the shelf and its record covers the start of a use."""
    return state.on_shelf and (state.recorded_until is None or use.starts <= state.recorded_until)


def home_of(turnaround: Turnaround, one: InstrumentSet) -> str:
    """The building of a set's place; empty when the site names none."""
    place = turnaround.site.places.get(one.place)
    return place.building if place else ""


def _on_shelf(turnaround: Turnaround, one: InstrumentSet, now: datetime) -> Availability:
    return Availability(
        set_id=one.id,
        tray=one.tray,
        from_state="on the shelf",
        released=now,
        ready=now,
        least_ready=now,
        on_shelf=True,
        steps=turnaround.steps(one.tray),
        recorded_until=one.recorded_until,
        until=one.return_by,
        home=home_of(turnaround, one),
    )


def _dirty(turnaround: Turnaround, one: InstrumentSet, now: datetime) -> Availability:
    return _routed(turnaround, one, now, "dirty, its whole route to run")


def _at_step(turnaround: Turnaround, one: InstrumentSet, now: datetime) -> Availability:
    site = turnaround.site
    steps = turnaround.steps(one.tray)
    tray = site.trays.get(one.tray)
    route = site.routes.get(tray.route) if tray else None
    if route and one.step not in {step.name for step in steps}:
        steps = route.steps
    left = remaining(steps, one.step, one.step_since, now, turnaround.calendar)
    if left is None:
        return _never(turnaround, one, now, f"at step {one.step or '(none given)'}, which its route does not have")
    words = f"at step {one.step}"
    if one.step_since is not None:
        words += f" since {site.settings.site_clock.stamp(one.step_since)}"
        if not any(step.usual_minutes for step in left.steps if step.name == one.step):
            words += ", which should have ended; taken as ending now"
    return replace(_routed(turnaround, one, now, words, left.steps), under_way=left.under_way)


def _in_use(turnaround: Turnaround, one: InstrumentSet, now: datetime) -> Availability:
    site = turnaround.site
    case = turnaround.cases.get(one.in_case)
    if case is None or case.is_cancelled:
        return _never(turnaround, one, now, f"in use in case {one.in_case or '(none given)'}, which is not running")
    leaves = max(now, case_times(site.settings, case).leaves_room)
    before = turnaround.leaving(one.tray)
    words = f"in use in case {case.number} until about {site.settings.site_clock.stamp(leaves)}"
    state = _routed(turnaround, one, shift(leaves, before[0][1]), words)
    return replace(state, giver=case.number, before=before)


def _away(turnaround: Turnaround, one: InstrumentSet, now: datetime) -> Availability:
    if one.back_at is None:
        return _never(turnaround, one, now, "away, and nobody says when it is back")
    back = max(now, one.back_at)
    words = f"away until {turnaround.site.settings.site_clock.stamp(back)}"
    state = _routed(turnaround, one, back, f"{words}, then its whole route to run")
    return replace(state, before=((Act.ARRIVED, 0),))


def _on_loan(turnaround: Turnaround, one: InstrumentSet, now: datetime) -> Availability:
    clock = turnaround.site.settings.site_clock
    arrives = max(now, one.back_at) if one.back_at else now
    words = f"on loan, here from {clock.stamp(arrives)}, its whole route to run before first use"
    if one.return_by is not None:
        words += f", goes back by {clock.stamp(one.return_by)}"
    return replace(_routed(turnaround, one, arrives, words), before=((Act.ARRIVED, 0),))


def _incomplete(turnaround: Turnaround, one: InstrumentSet, now: datetime) -> Availability:
    return _never(turnaround, one, now, f"incomplete, {one.missing} missing" if one.missing else "incomplete")


def _unknown(turnaround: Turnaround, one: InstrumentSet, now: datetime) -> Availability:
    return _never(turnaround, one, now, "state unknown")


def _routed(
    turnaround: Turnaround,
    one: InstrumentSet,
    released: datetime,
    words: str,
    steps: tuple[Step, ...] | None = None,
) -> Availability:
    """A set that must go through steps (its whole route unless given) from an instant."""
    path = turnaround.steps(one.tray) if steps is None else steps
    if not path:
        return _never(turnaround, one, released, f"{words}; tray {one.tray} has no route")
    usual = turnaround.timed_route_of(path, Pace.USUAL)
    least = turnaround.timed_route_of(path, Pace.LEAST)
    stuck = usual.never_ends(released) if usual else None
    return Availability(
        set_id=one.id,
        tray=one.tray,
        from_state=words,
        released=released,
        ready=usual.ready(released) if usual else None,
        least_ready=least.ready(released) if least else None,
        steps=path,
        until=one.return_by,
        home=home_of(turnaround, one),
        why_never=stuck.reason() if stuck else "",
    )


def _never(turnaround: Turnaround, one: InstrumentSet, now: datetime, words: str) -> Availability:
    return Availability(
        set_id=one.id,
        tray=one.tray,
        from_state=words,
        released=now,
        ready=None,
        least_ready=None,
        home=home_of(turnaround, one),
        why_never=words,
    )


_BY_STATE: dict[SetState, Callable[[Turnaround, InstrumentSet, datetime], Availability]] = {
    SetState.ON_SHELF: _on_shelf,
    SetState.DIRTY: _dirty,
    SetState.AT_STEP: _at_step,
    SetState.IN_USE: _in_use,
    SetState.AWAY: _away,
    SetState.ON_LOAN: _on_loan,
    SetState.INCOMPLETE: _incomplete,
    SetState.UNKNOWN: _unknown,
}
