"""What a trial of changes says beside its conflicts: what forbids it, cases at new times, steps that are capped."""

from __future__ import annotations

from picklist.clock import SiteClock
from picklist.model.conflicts import ChanceLeft
from picklist.model.objections import Lack, Objection, ObjectionKind
from picklist.model.schedule import Case
from picklist.wording.chances import chance_then
from picklist.wording.quantities import span

_FORBIDS = {
    ObjectionKind.FIXED: "case {case} may not move",
    ObjectionKind.STARTED: "case {case} has started",
    ObjectionKind.DUE: "case {case} should have started",
    ObjectionKind.CART_DUE: "the cart of case {case} would be due before now",
    ObjectionKind.NOT_OPEN: "{room} is not open then",
    ObjectionKind.CLOSES: "{room} closes before case {case} would end",
    ObjectionKind.ROOM_TAKEN: "{room} has case {other} then",
    ObjectionKind.PERSON_BUSY: "{person} is in case {other} then",
}
_LACKS = {
    Lack.CASE: "there is no planned case {0}",
    Lack.ENDED: "case {0} is {1} on the schedule, so it needs nothing",
    Lack.TRAY: "there is no tray {0}",
    Lack.SET: "there is no set {0}",
    Lack.NEED: "case {0} does not need tray {1}",
    Lack.ON_HOLD: "case {0} has no tray {1} on hold",
    Lack.MADE_READY: "no set of tray {0} is being made ready for case {1}",
    Lack.NOT_COUNTED: "{0} is recorded as {1}, and counted with already",
    Lack.ONE_ROOM: "cases {0} and {1} are not two cases of one room and day",
}


def forbidden(one: Objection | None) -> str:
    """Why rooms, people or hours forbid a change; empty where they do not."""
    if one is None:
        return ""
    case = one.case
    return _FORBIDS[one.kind].format(case=case.number, room=case.room, other=one.other, person=one.person)


def lacking(lack: Lack, *names: str) -> str:
    """What a change names that the plan does not have."""
    return _LACKS[lack].format(*names)


def moved_case(was: Case, now: Case, clock: SiteClock) -> str:
    """``case C-4134 in OR 9: 10:30 instead of 07:30``."""
    room = now.room if now.room == was.room else f"{now.room} instead of {was.room}"
    start = clock.stamp(now.start)
    return f"case {now.number} in {room}: {start}" + (
        f" instead of {clock.hhmm(was.start)}" if now.start != was.start else " as planned"
    )


def chance_of_case(case: str, tray: str, draws: int, left: ChanceLeft) -> str:
    """``case C-4134, Hand tray: then late in 12 % of simulated days``."""
    return f"case {case}, {tray}: {chance_then(draws, left.usual, left.hurried)}"


def capped_step(set_id: str, step: str, usual: int | None, least: int | None) -> str:
    """Why a step of a set is not as much faster as was asked; no minutes: the set has no such step ahead."""
    if usual is None or least is None:
        return f"{set_id} has no {step} ahead of it: nothing to save there"
    bounds = f"usual {span(usual)}, minimum {span(least)}"
    if usual <= least:
        return f"{step} of {set_id} cannot be faster ({bounds})"
    return f"{step} of {set_id} can be {span(usual - least)} faster at most ({bounds}); that was tried"
