"""Sentences about sets and cases, in words that can be read out."""

from __future__ import annotations

from datetime import datetime

from picklist.model.site import Site
from picklist.model.uses import Pace, Reuse, Use
from picklist.wording import at_pace

_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


def when(site: Site, instant: datetime, beside: datetime) -> str:
    """Hour and minute, with the day where it is not the day of ``beside``."""
    clock = site.settings.site_clock
    return clock.hhmm(instant) if clock.day(instant) == clock.day(beside) else clock.stamp(instant)


def usual_time(site: Site, reuse: Reuse, use: Use) -> str:
    """When a set is ready for a use: ``13:45 at usual pace``."""
    return at_pace(when(site, reuse.ready, use.needed), Pace.USUAL)


def hurried_time(site: Site, reuse: Reuse, use: Use) -> str:
    """When a set is ready for a use in a rush: ``12:48 when hurried``."""
    return at_pace(when(site, reuse.least_ready, use.needed), Pace.LEAST)


def tray_name(site: Site, tray: str) -> str:
    """A tray's name, or its id where it has none."""
    known = site.trays.get(tray)
    return (known.name if known else "") or tray


def count(number: int, thing: str) -> str:
    """``no sets``, ``one set``, ``two sets``, ``11 sets``."""
    word = _NUMBERS[number] if number < len(_NUMBERS) else str(number)
    return f"{word} {thing}" if number == 1 else f"{word} {thing}s"


def minutes(number: int) -> str:
    """``1 minute``, ``125 minutes``."""
    return f"{number} minute" if number == 1 else f"{number} minutes"


def needs_by(site: Site, use: Use) -> str:
    """The opening of every conflict: who needs what by when."""
    day = site.settings.site_clock.day_text(site.settings.site_clock.day(use.needed))
    by = site.settings.site_clock.hhmm(use.needed)
    side = f", {use.side}" if use.side else ""
    return f"Case {use.case} needs {tray_name(site, use.tray)}{side} by {by} on {day}."
