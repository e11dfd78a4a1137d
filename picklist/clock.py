"""Site wall time and instants.

Instants are aware datetimes in UTC; arithmetic on them is right in a night in which
the clock changes. Wall time exists only at the edges: in the sheets and on paper.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo


class NoSuchTimeError(ValueError):
    """The wall time is skipped when the clock goes forward."""


@dataclass(frozen=True, slots=True)
class SiteClock:
    """The wall clock of one site: an IANA zone name and 12 or 24 hour reading."""

    zone: str
    hours: int = 24

    def instant(self, day: date, wall: time) -> datetime:
        """The UTC instant of a wall time; of two equal ones in autumn, the first.

        Raises NoSuchTimeError for an hour that the spring change skips.
        """
        local = self._local(day, wall)
        if not self._comes_once(day, wall) and not self.comes_twice(day, wall):
            raise NoSuchTimeError(f"{day} {wall:%H:%M} does not exist in {self.zone}")
        return local.astimezone(UTC)

    def comes_twice(self, day: date, wall: time) -> bool:
        """Whether the clock shows a wall time twice, as it is set back in that night."""
        if self._comes_once(day, wall):
            return False
        local = self._local(day, wall)
        return self.wall(local.astimezone(UTC)).replace(tzinfo=None) == local.replace(tzinfo=None)

    def _comes_once(self, day: date, wall: time) -> bool:
        return not is_set(self.zone, day) or comes_once(self._local(day, wall))

    def _local(self, day: date, wall: time) -> datetime:
        return datetime.combine(day, wall, tzinfo=ZoneInfo(self.zone))

    def at_or_after(self, day: date, wall: time) -> datetime:
        """As ``instant``, but an hour that does not exist becomes the moment the clock jumps to."""
        try:
            return self.instant(day, wall)
        except NoSuchTimeError:
            return self._jump(self._local(day, wall))

    def _jump(self, skipped: datetime) -> datetime:
        """The instant at which the clock jumps over a skipped wall time, to the minute."""
        before = skipped.replace(fold=1).astimezone(UTC)
        after = skipped.replace(fold=0).astimezone(UTC)
        offset = self.wall(after).utcoffset()
        while after - before > timedelta(minutes=1):
            middle = before + timedelta(minutes=minutes_between(before, after) // 2)
            before, after = (before, middle) if self.wall(middle).utcoffset() == offset else (middle, after)
        return after

    def wall(self, instant: datetime) -> datetime:
        """The site's wall time of an instant, aware."""
        return instant.astimezone(ZoneInfo(self.zone))

    def day(self, instant: datetime) -> date:
        """The site's calendar day of an instant."""
        return self.wall(instant).date()

    def last_day(self, ends: datetime) -> date:
        """The last calendar day of what ends at an instant: at midnight it is the day before."""
        return self.day(ends - timedelta.resolution)

    def hhmm(self, instant: datetime) -> str:
        """Hour and minute as the site reads its clock: ``14:05`` or ``2:05 pm``.

        In the hour that comes twice in autumn with the name of the time that holds: ``02:05 CEST``.
        """
        local = self.wall(instant)
        return self.wall_text(local.time()) + ("" if comes_once(local.replace(fold=0)) else f" {local.tzname()}")

    def wall_text(self, wall: time) -> str:
        """A wall time as the site reads its clock."""
        if self.hours == 24:
            return f"{wall:%H:%M}"
        return f"{wall.hour % 12 or 12}:{wall:%M} {'am' if wall.hour < 12 else 'pm'}"

    def day_text(self, day: date) -> str:
        """A day that cannot be misread in any country: ``Thu 26 Nov 2026``."""
        return full_day(day)

    def stamp(self, instant: datetime) -> str:
        """Day and time together: ``Thu 26 Nov 14:05``."""
        local = self.wall(instant)
        return f"{short_day(local)} {self.hhmm(instant)}"


@lru_cache(maxsize=1024)
def is_set(zone: str, day: date) -> bool:
    """Whether the clocks of a zone are set forward or back on a day."""
    midnight, next_one = (datetime.combine(day + timedelta(days=n), time(), tzinfo=ZoneInfo(zone)) for n in (0, 1))
    return not (comes_once(midnight) and midnight.utcoffset() == next_one.utcoffset())


def comes_once(local: datetime) -> bool:
    """Whether a wall time is no hour that the clock skips, and none that it shows twice (PEP 495)."""
    return local.utcoffset() == local.replace(fold=1).utcoffset()


def shift(instant: datetime, minutes: float) -> datetime:
    """The instant that many minutes later (earlier when negative)."""
    return instant + timedelta(minutes=minutes)


def minutes_between(earlier: datetime, later: datetime) -> int:
    """Whole minutes from one instant to another, rounded down; negative when reversed."""
    return int((later - earlier).total_seconds() // 60)


def short_day(day: date) -> str:
    """``Thu 26 Nov``, where the year is plain."""
    return f"{day:%a} {day.day} {day:%b}"


def weekday(day: date) -> str:
    """``Thursday``."""
    return f"{day:%A}"


def long_date(day: date) -> str:
    """``26 November 2026``, beside its weekday."""
    return f"{day.day} {day:%B %Y}"


def full_day(day: date) -> str:
    """A day that cannot be misread in any country: ``Thu 26 Nov 2026``."""
    return f"{short_day(day)} {day.year}"
