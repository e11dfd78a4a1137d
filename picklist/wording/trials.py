"""What a trial of changes says beside its conflicts: cases at new times, and steps that cannot be that fast."""

from __future__ import annotations

from picklist.clock import SiteClock
from picklist.model.schedule import Case
from picklist.wording.quantities import span


def moved_case(was: Case, now: Case, clock: SiteClock) -> str:
    """``case C-4134 in OR 9: 10:30 instead of 07:30``."""
    room = now.room if now.room == was.room else f"{now.room} instead of {was.room}"
    start = clock.stamp(now.start)
    return f"case {now.number} in {room}: {start}" + (
        f" instead of {clock.hhmm(was.start)}" if now.start != was.start else " as planned"
    )


def capped_step(set_id: str, step: str, usual: int | None, least: int | None) -> str:
    """Why a step of a set is not as much faster as was asked; no minutes: the set has no such step ahead."""
    if usual is None or least is None:
        return f"{set_id} has no {step} ahead of it: nothing to save there"
    bounds = f"usual {span(usual)}, minimum {span(least)}"
    if usual <= least:
        return f"{step} of {set_id} cannot be faster ({bounds})"
    return f"{step} of {set_id} can be {span(usual - least)} faster at most ({bounds}); that was tried"
