"""What became of a decision, in words."""

from __future__ import annotations

from datetime import date

from picklist.clock import short_day
from picklist.problems import did_you_mean


def of_revision(revision: int, plan_day: date, own_day: date) -> str:
    """``revision 4``, with the day of its lists where that is not the day of these."""
    return f"revision {revision}" + (f" of {short_day(plan_day)}" if plan_day != own_day else "")


def carried_out(since: str, *, by_moves: bool, stands: bool) -> str:
    """What the plans since ``since`` show of a decision."""
    if by_moves:
        return f"in the schedule since {since}" + (", but the conflict is still there" if stands else "")
    return f"solved since {since}"


def not_kept(by: str, *, stands: bool) -> str:
    """What a later plan undid."""
    return f"not kept: {by} undid it" + ("; decide again" if stands else "; the conflict is gone anyway")


def renumbered(then: str) -> str:
    """Under which number a case stood when something was decided about it."""
    return f"decided when the case was {then}"


def waiting(*, by_moves: bool, stands: bool) -> str:
    """Of a decision that no plan has shown carried out yet; empty where there is nothing to say."""
    if not stands:
        return "no longer a conflict; what was decided is not in the schedule" if by_moves else "no longer a conflict"
    return "not in the schedule yet" if by_moves else ""


def told_in_the_future(typed: str, now: str, near: str) -> str:
    """A time of informing that is still to come, with the nearest that can be meant."""
    return f"informed at {typed}: that time is still to come, it is {now} now; did you mean {near}?"


def told_before_the_lists(typed: str, first: str, near: str) -> str:
    """A time of informing at which nobody knew of the matter yet, with the nearest that can be meant."""
    return f"informed at {typed}: it was not known before {first}, when it was first on the lists; did you mean {near}?"


def told_no_time(typed: str, expected: str, near: tuple[str, ...]) -> str:
    """A time of informing that is none."""
    hint = did_you_mean(near)
    return f"informed at {typed}: expected {expected}, or nothing for now{hint}"


def told_nobody(typed: str) -> str:
    """A time of informing without anybody informed."""
    return f"enter who was informed at {typed}"
