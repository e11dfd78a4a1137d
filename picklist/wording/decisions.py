"""What became of a decision, in words."""

from __future__ import annotations

from datetime import date

from picklist.clock import short_day


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


def waiting(*, by_moves: bool, stands: bool) -> str:
    """Of a decision that no plan has shown carried out yet; empty where there is nothing to say."""
    if not stands:
        return "no longer a conflict; what was decided is not in the schedule" if by_moves else "no longer a conflict"
    return "not in the schedule yet" if by_moves else ""
