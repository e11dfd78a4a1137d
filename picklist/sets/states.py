"""Work out when a set is usable first, from its recorded state now."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime

from picklist.clock import shift
from picklist.model.routes import Step
from picklist.model.schedule import CaseStatus
from picklist.model.sets import InstrumentSet, SetState
from picklist.model.uses import Act, Pace, Use
from picklist.sets.case_uses import case_times
from picklist.sets.turnaround import Turnaround, is_elsewhere
from picklist.sets.walk import remaining
from picklist.wording import set_states as words


@dataclass(frozen=True, slots=True, kw_only=True)
class Availability:
    """What a set's state now means for its next use.

    ``on_shelf``: recorded as ready, until ``recorded_until`` where that is known; ``off_cart``: it is on a
    cart from which it must be put back, until ``released``.
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
    off_cart: bool = False
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
        return _never(turnaround, one, now, words.SIDE_UNKNOWN)
    return _BY_STATE[one.state](turnaround, one, now)


def ready_for(turnaround: Turnaround, state: Availability, use: Use, pace: Pace = Pace.USUAL) -> datetime | None:
    """When a set can first be there for a use, transfer included; None: never.

    A set on the shelf whose record ends before the case starts must run its route first.
    One that is in date in the same building is never late, be the need past already.
    Side and size are not looked at.
    """
    if state.why_never or is_gone(turnaround, state, use):
        return None
    in_date = is_in_date(state, use)
    if in_date and not is_elsewhere(state.home, use.building):
        return state.released if state.off_cart else min(state.released, use.needed)
    steps = () if in_date else state.steps
    timed_route = turnaround.timed_route_of(steps, pace, state.home, use.building)
    return timed_route.ready(state.released) if timed_route else None


def stands_there(state: Availability, use: Use) -> bool:
    """Whether the set only has to be fetched, so that it has no slack to lose."""
    done = is_in_date(state, use) or not (state.steps or state.on_shelf)
    return done and not state.off_cart and not is_elsewhere(state.home, use.building)


def is_in_date(state: Availability, use: Use) -> bool:
    """Whether a set is on the shelf and its record covers the start of a use."""
    return state.on_shelf and (state.recorded_until is None or use.starts <= state.recorded_until)


def is_gone(turnaround: Turnaround, state: Availability, use: Use, late: int = 0) -> bool:
    """Whether a loan must have gone back before a use that starts so many minutes late gives it back at its home."""
    if state.until is None:
        return False
    return late > turnaround.may_be_late(use, state.tray, state.home, state.until)


def home_of(turnaround: Turnaround, one: InstrumentSet) -> str:
    """The building of a set's place; empty when the site names none."""
    place = turnaround.site.places.get(one.place)
    return place.building if place else ""


def _on_shelf(turnaround: Turnaround, one: InstrumentSet, now: datetime) -> Availability:
    minutes = turnaround.site.settings.put_back if one.off_cart_of else 0
    free = shift(now, minutes)
    return Availability(
        set_id=one.id,
        tray=one.tray,
        from_state=words.state_now(one, turnaround.site.settings.site_clock, now),
        released=free,
        ready=free,
        least_ready=free,
        on_shelf=True,
        off_cart=bool(one.off_cart_of),
        before=((Act.OFF_CART, minutes),) if one.off_cart_of else (),
        steps=turnaround.steps(one.tray),
        recorded_until=one.recorded_until,
        until=one.return_by,
        home=home_of(turnaround, one),
    )


def _dirty(turnaround: Turnaround, one: InstrumentSet, now: datetime) -> Availability:
    return _routed(turnaround, one, now)


def _at_step(turnaround: Turnaround, one: InstrumentSet, now: datetime) -> Availability:
    site = turnaround.site
    steps = turnaround.steps(one.tray)
    tray = site.trays.get(one.tray)
    route = site.routes.get(tray.route) if tray else None
    if route and one.step not in {step.name for step in steps}:
        steps = route.steps
    left = remaining(steps, one.step, one.step_since, now, turnaround.calendar)
    if left is None:
        return _never(turnaround, one, now)
    current = [step.usual_minutes for step in left.steps if step.name == one.step]
    overdue = one.step_since is not None and not any(current)
    return replace(_routed(turnaround, one, now, steps=left.steps, overdue=overdue), under_way=left.under_way)


def _in_use(turnaround: Turnaround, one: InstrumentSet, now: datetime) -> Availability:
    site = turnaround.site
    case = turnaround.cases.get(one.in_case)
    if case is None or case.is_cancelled:
        return _never(turnaround, one, now)
    over = case.status is CaseStatus.DONE  # its row is of before that: it leaves the room now, and is dirty
    leaves = now if over else max(now, case_times(site.settings, case).leaves_room)
    one = replace(one, state=SetState.DIRTY) if over else one
    before = turnaround.leaving(one.tray)
    used_in, home = turnaround.building(case.number), home_of(turnaround, one)
    steps = turnaround.steps_after(one.tray, used_in, home)
    if steps is None:
        said = words.state_now(one, site.settings.site_clock, leaves)
        return _never(turnaround, one, now, words.never_home(said, used_in, home))
    state = _routed(turnaround, one, shift(leaves, before[0][1]), steps=steps, at=leaves)
    return replace(state, giver="" if over else case.number, before=before)


def _away(turnaround: Turnaround, one: InstrumentSet, now: datetime) -> Availability:
    if one.back_at is None:
        return _never(turnaround, one, now)
    return replace(_routed(turnaround, one, max(now, one.back_at)), before=((Act.ARRIVED, 0),))


def _on_loan(turnaround: Turnaround, one: InstrumentSet, now: datetime) -> Availability:
    arrives = max(now, one.back_at) if one.back_at else now
    return replace(_routed(turnaround, one, arrives), before=((Act.ARRIVED, 0),))


def _routed(
    turnaround: Turnaround,
    one: InstrumentSet,
    released: datetime,
    *,
    steps: tuple[Step, ...] | None = None,
    at: datetime | None = None,
    overdue: bool = False,
) -> Availability:
    """A set that must go through steps (its whole route unless given) from an instant; ``at``: see its words."""
    said = words.state_now(one, turnaround.site.settings.site_clock, at or released, overdue=overdue)
    path = turnaround.steps(one.tray) if steps is None else steps
    if not path:
        return _never(turnaround, one, released, words.no_route(said, one.tray))
    usual = turnaround.timed_route_of(path, Pace.USUAL)
    least = turnaround.timed_route_of(path, Pace.LEAST)
    stuck = usual.stuck_step(released) if usual else None
    return Availability(
        set_id=one.id,
        tray=one.tray,
        from_state=said,
        released=released,
        ready=usual.ready(released) if usual else None,
        least_ready=least.ready(released) if least else None,
        steps=path,
        until=one.return_by,
        home=home_of(turnaround, one),
        why_never=words.never_starts(stuck) if stuck else "",
    )


def _never(turnaround: Turnaround, one: InstrumentSet, now: datetime, why: str = "") -> Availability:
    why = why or words.why_never(one)
    return Availability(
        set_id=one.id,
        tray=one.tray,
        from_state=why,
        released=now,
        ready=None,
        least_ready=None,
        home=home_of(turnaround, one),
        why_never=why,
    )


_BY_STATE: dict[SetState, Callable[[Turnaround, InstrumentSet, datetime], Availability]] = {
    SetState.ON_SHELF: _on_shelf,
    SetState.DIRTY: _dirty,
    SetState.AT_STEP: _at_step,
    SetState.IN_USE: _in_use,
    SetState.AWAY: _away,
    SetState.ON_LOAN: _on_loan,
    SetState.INCOMPLETE: _never,
    SetState.UNKNOWN: _never,
}
