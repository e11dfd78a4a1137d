"""Conflicts that only the department's queue makes, and what would help most, in words."""

from __future__ import annotations

from collections.abc import Mapping

from picklist.clock import SiteClock
from picklist.model.department import SetRun
from picklist.model.uses import Pace, Reuse
from picklist.wording.quantities import at_pace, listed, span, to_spare


def queue_statement(reuse: Reuse, way: SetRun, station: str, clock: SiteClock) -> str:
    """In time alone, late among all the others; ``station`` is to blame, empty when no queue is."""
    start = f"after case {reuse.giver}" if reuse.giver else reuse.from_state
    if reuse.hangs_on_opening:
        start = f"on hold in case {reuse.giver}"
    alone = at_pace(to_spare(reuse.slack), Pace.USUAL) if reuse.slack >= 0 else "just enough time when hurried"
    opened = f", if case {reuse.giver} opens it," if reuse.hangs_on_opening else ""
    text = (
        f"{reuse.set_id} ({start}){opened} has {alone} for case {reuse.waiter}; "
        f"it is ready {at_pace(clock.stamp(way.ready), Pace.QUEUE)}, {to_spare(-way.late)}"
    )
    return f"{text}, because of the queue at {station}" if station else text


def lost_in_queues(lost: Mapping[str, int]) -> str:
    """Minutes lost at each station."""
    at = listed(f"{span(minutes)} at {station}" for station, minutes in lost.items())
    return f"lost in queues: {at}" if at else "lost before it came"


def relief(station: str, late: int) -> str:
    """What one more machine or person at a station would do."""
    return f"one more at {station} would {f'leave it {span(late)} late' if late else 'bring it in time'}"


def one_more_set(name: str, tray: str) -> str:
    """A set to buy."""
    return f"one more set of {name} ({tray})"


def one_more_at(station: str, machines: int) -> str:
    """A machine to buy, or a person to put there."""
    return f"one more at {station} ({machines} now)"


def longer_hours(station: str, *, earlier: bool) -> str:
    """A longer shift at a station, or at all of them (empty)."""
    return f"{station or 'all stations'} to {'open an hour earlier' if earlier else 'close an hour later'}"


def collected_sooner(minutes: int) -> str:
    """Sets that leave the room sooner."""
    return f"sets collected from the room {span(minutes)} sooner"
