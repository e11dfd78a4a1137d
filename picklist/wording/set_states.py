"""Where a set is now, what that means for its next use, and what the sheets leave open about a tray."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, time, timedelta

from picklist.clock import SiteClock, short_day
from picklist.model.routes import Step
from picklist.model.sets import InstrumentSet, SetState

BROUGHT = "brought from elsewhere"
SIDE_UNKNOWN = "left or right is not recorded"
NO_PLACE = "place not recorded"
IMPLANTS_NOT_STATED = "not stated whether it holds implants: counted with the steps that are only for implants"
SIDE_NOT_STATED = "not stated whether its sets are left or right: check the side"
LATEX_NOT_STATED = "LATEX ALERT: not stated whether anything in it holds latex: check before it goes on the cart"


def state_now(one: InstrumentSet, clock: SiteClock, at: datetime, *, overdue: bool = False) -> str:
    """The state of a set that will be usable; ``at``: when its case ends or it is here; ``overdue``: its step is."""
    when = clock.stamp(at)
    match one.state:
        case SetState.ON_SHELF if one.off_cart_of:
            return f"{_on_cart(one)} (to be put back first)"
        case SetState.ON_SHELF:
            return "on the shelf"
        case SetState.DIRTY:
            return "dirty, must go through all steps first"
        case SetState.AT_STEP:
            since = f" since {clock.stamp(one.step_since)}" if one.step_since else ""
            return f"at step {one.step}{since}" + (", which should have ended; taken as ending now" if overdue else "")
        case SetState.IN_USE:
            return f"in use in case {one.in_case} until about {when}"
        case SetState.AWAY:
            return f"{until_here(one, when)}, then must go through all steps"
        case SetState.ON_LOAN:
            back = f", goes back by {clock.stamp(one.return_by)}" if one.return_by else ""
            return f"{until_here(one, when)}, must go through all steps first{back}"
    return why_never(one)


def until_here(one: InstrumentSet, when: str) -> str:
    """``away until 09:00``, or ``on loan, here from 09:00``."""
    return f"on loan, here from {when}" if one.state is SetState.ON_LOAN else f"{one.state} until {when}"


def why_never(one: InstrumentSet) -> str:
    """Why a set will not be usable as it is recorded."""
    match one.state:
        case SetState.AT_STEP:
            return f"at step {one.step or '(none given)'}, which its route does not have"
        case SetState.IN_USE:
            return f"in use in case {one.in_case or '(none given)'}, which is not running"
        case SetState.AWAY:
            return "away, not stated until when"
        case SetState.INCOMPLETE:
            return f"incomplete, {one.missing} missing" if one.missing else "incomplete"
    return "state unknown"


def no_route(state: str, tray: str) -> str:
    """A set that must go through a route which its tray does not have."""
    return f"{state}; tray {tray} has no route"


def no_way_back(used_in: str, home: str) -> str:
    """That no way leads home from the building in which a set was used."""
    return f"no transfer back from {used_in} to {home} is listed"


def never_home(state: str, used_in: str, home: str) -> str:
    """A set that is in use in a building from which no way leads home."""
    return f"{state}; {no_way_back(used_in, home)}"


def never_starts(step: Step) -> str:
    """Why a step cannot be done, so that its set is never ready."""
    if step.run:
        return f"no departure of run {step.run} for step {step.name}"
    if step.station:
        return f"station {step.station} has no working time long enough for step {step.name}"
    return f"step {step.name} cannot be done"


def record_ends(until: datetime, clock: SiteClock) -> str:
    """Why a set on the shelf must run its route: its record ends before the case."""
    wall = clock.wall(until)
    last = short_day(wall.date() - timedelta(days=1))
    return f", its record ends {clock.stamp(until) if wall.time() != time() else f'with {last}'}, before the case"


def place_now(one: InstrumentSet) -> str:
    """The recorded whereabouts of a set: its place, its step, or the case that uses it."""
    match one.state:
        case SetState.ON_SHELF:
            return _on_cart(one) if one.off_cart_of else one.place or NO_PLACE
        case SetState.AT_STEP:
            return f"at {one.step}"
        case SetState.IN_USE:
            return f"in use, case {one.in_case}" if one.in_case else "in use"
        case SetState.AWAY | SetState.ON_LOAN:
            return one.state.value
        case _:
            return one.state.value + (f", {one.place}" if one.place else "")


def _on_cart(one: InstrumentSet) -> str:
    return f"on the cart of case {one.off_cart_of}"


def look_for(sets: Iterable[str]) -> str:
    """Sets of a tray that no case was given, as nobody knows where they are."""
    return f"state not recorded, so look for: {', '.join(sets)}"


def look_at(sets: Iterable[str]) -> str:
    """Sets of a tray that no case was given, as nobody knows which side they are for."""
    return f"left or right not recorded, so look at: {', '.join(sets)}"
