"""Sentences about sets and cases, in words that can be read out."""

from __future__ import annotations

from datetime import datetime

from picklist.model.site import Site
from picklist.wording import counted, moment, more, span


def when(site: Site, instant: datetime, beside: datetime) -> str:
    """Hour and minute, with the day where it is not the day of ``beside``."""
    clock = site.settings.site_clock
    return moment(clock, instant, clock.day(beside))


def tray_name(site: Site, tray: str) -> str:
    """A tray's name, or its id where it has none."""
    return site.tray_name(tray)


def count(number: int, thing: str) -> str:
    """``3 sets``; ``one more set``."""
    return more(number, thing.removeprefix("more ")) if thing.startswith("more ") else counted(number, thing)


minutes = span
