"""A stretch of time as the width of a drawing."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from picklist.clock import SiteClock
from picklist.documents.views.finished_words import View

MOST_TICKS = {24: 12, 12: 8}  # by the hours of the clock: am and pm take room


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """A stretch of time as the width of a drawing."""

    begins: datetime
    ends: datetime

    def _at(self, instant: datetime) -> float:
        part = (instant - self.begins) / max(self.ends - self.begins, timedelta(minutes=1))
        return min(max(part, 0.0), 1.0)

    def share(self, instant: datetime) -> float:
        """Where an instant is, as a share of the width; beyond the ends, at the nearer end."""
        return round(self._at(instant), 4)

    def per_cent(self, instant: datetime, digits: int) -> float:
        """The same in per cent."""
        return round(100 * self._at(instant), digits)

    def ticks(self, clock: SiteClock) -> tuple[tuple[float, str], ...]:
        """Whole hours of the wall clock, thinned so that they can stand beneath a drawing as wide as a page."""
        first = clock.wall(self.begins)
        past = timedelta(minutes=first.minute, seconds=first.second, microseconds=first.microsecond)
        moment, hours = self.begins - past + timedelta(hours=1), []
        while moment <= self.ends:
            hours.append(moment)
            moment += timedelta(hours=1)
        every = max(1, -(-len(hours) // MOST_TICKS[clock.hours]))
        return tuple((self.share(one), clock.hhmm(one)) for one in hours[::every])


class Bar(View):
    """A stretch of a row: where it begins and how long it is, as shares of the width."""

    def __init__(self, scale: Scale, begins: datetime, ends: datetime, kind: str, text: str = "") -> None:
        self.begins = scale.share(begins)
        self.length = round(scale.share(ends) - self.begins, 4)
        self.kind = kind
        self.text = text
