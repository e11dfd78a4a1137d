"""A time of day that the crew wrote down, as a moment."""

from __future__ import annotations

from datetime import datetime, time, timedelta

from picklist.clock import SiteClock


def last_time(clock: SiteClock, wall: time | None, now: datetime) -> datetime:
    """The last moment, not after ``now``, at which the clock showed that time; ``now`` when none was written."""
    if wall is None:
        return now
    today = clock.day(now)
    found = clock.at_or_after(today, wall)
    return found if found <= now else clock.at_or_after(today - timedelta(days=1), wall)
