"""When the stations of a site work and its transport runs leave, as instants.

A shift belongs to the day on which it opens, so a holiday does not cut the night shift
of the eve. A wall time that the spring change skips counts as the moment of the jump;
of one that autumn repeats the first counts, except that a cadence (every so many
minutes) is kept in both.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache, partial

from picklist.clock import SiteClock
from picklist.model.routes import Departure, Holiday, Station, WorkPeriod
from picklist.model.site import Site
from picklist.sets.start_slots import DAY_MINUTES, Spans, StartSlots, Timetable, join_spans

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
MINUTE = timedelta(minutes=1)


def minute_from(instant: datetime) -> int:
    """The first whole minute since the epoch at or after an instant."""
    return -((EPOCH - instant) // MINUTE)


def minute_until(instant: datetime) -> int:
    """The last whole minute since the epoch at or before an instant."""
    return (instant - EPOCH) // MINUTE


@lru_cache(maxsize=1 << 16)  # the same few minutes are asked for again and again
def instant_of(minute: int) -> datetime:
    """The UTC instant of a whole minute since the epoch."""
    return EPOCH + timedelta(minutes=minute)


class Calendar:
    """Working hours, fixed starts and departures of one site; answers are kept for the next question."""

    def __init__(self, clock: SiteClock, stations: Iterable[Station]) -> None:
        self.clock = clock
        self.stations = {station.id: station for station in stations}
        self._hours: dict[str, list[list[WorkPeriod]]] = {}
        self._departures: dict[str, list[list[time]]] = {}
        self._holidays: defaultdict[str, set[date]] = defaultdict(set)
        self._slots: dict[tuple[str, str, int], StartSlots | None] = {}
        self._midnights: dict[int, int] = {}
        self._cadences: dict[tuple[int, int], list[int]] = {}

    def add(self, hours: Iterable[WorkPeriod], departures: Iterable[Departure], holidays: Iterable[Holiday]) -> None:
        """Enter working periods, departures and holidays; before the first question only."""
        for period in hours:
            self._hours.setdefault(period.station, [[] for _ in range(7)])[period.weekday].append(period)
        for departure in departures:
            self._departures.setdefault(departure.run, [[] for _ in range(7)])[departure.weekday].append(
                departure.leaves
            )
        for holiday in holidays:
            self._holidays[holiday.station].add(holiday.day)

    def start_slots(self, station: str, run: str, minutes: int) -> StartSlots | None:
        """The turns of a step of ``minutes`` at a station and on a run; None when it may begin at any time."""
        key = (station, run, minutes)
        if key not in self._slots:
            self._slots[key] = self._make_slots(station, run, minutes)
        return self._slots[key]

    def windows(self, station: str, begins: datetime, ends: datetime) -> tuple[tuple[datetime, datetime], ...]:
        """The working windows of a station that reach into a stretch of time, in order, not cut to it."""
        low, high = minute_from(begins), minute_until(ends)
        spans = self._windows(station, self._day(low) - 2, self._day(high) + 2)
        return tuple((instant_of(a), instant_of(b)) for a, b in spans if a < high and b > low)

    def _make_slots(self, station: str, run: str, minutes: int) -> StartSlots | None:
        has_windows = bool(station) and (station in self._hours or bool(self._closed_days(station)))
        known = self.stations.get(station)
        has_starts = bool(run) or (known is not None and (known.start_every > 1 or bool(known.start_times)))
        if not has_windows and not has_starts:
            return None
        windows, starts = station if has_windows else None, (known, run) if has_starts else None
        read = partial(self._timetable, windows, starts)
        return StartSlots(minutes, known is not None and known.past_closing and not run, read)

    def _timetable(
        self, station: str | None, turns: tuple[Station | None, str] | None, begins: int, ends: int
    ) -> Timetable:
        """What a station (None: any time is working time) and its turns on a run leave between two minutes."""
        first, last = self._day(begins) - 1, self._day(ends) + 1
        return Timetable(
            windows=None if station is None else self._windows(station, first, last),
            starts=None if turns is None else self._starts(*turns, first, last),
        )

    def _windows(self, station: str, first: int, last: int) -> Spans:
        closed = self._closed_days(station)
        days = [day for day in range(first, last + 1) if date.fromordinal(day) not in closed]
        if station not in self._hours:
            return join_spans([(self._midnight(day), self._midnight(day + 1)) for day in days])
        week = self._hours[station]
        return join_spans([self._shift(day, period) for day in days for period in week[(day - 1) % 7]])

    def _shift(self, day: int, period: WorkPeriod) -> tuple[int, int]:
        over_midnight = period.closes <= period.opens
        return self._minute(day, period.opens), self._minute(day + over_midnight, period.closes)

    def _starts(self, station: Station | None, run: str, first: int, last: int) -> list[int]:
        if run:
            return self._leaving(run, first, last)
        if station is None:
            return []
        days = range(first, last + 1)
        if station.start_times:
            return sorted({self._minute(day, wall) for day in days for wall in station.start_times})
        return [minute for day in days for minute in self._cadence(day, station.start_every)]

    def _leaving(self, run: str, first: int, last: int) -> list[int]:
        week = self._departures.get(run, [[]] * 7)
        closed = self._closed_days(run)
        days = (day for day in range(first, last + 1) if date.fromordinal(day) not in closed)
        return sorted({self._minute(day, wall) for day in days for wall in week[(day - 1) % 7]})

    def _cadence(self, day: int, every: int) -> Sequence[int]:
        """The minutes of a day at which the wall clock shows a multiple of ``every`` minutes."""
        begins, ends = self._midnight(day), self._midnight(day + 1)
        if ends - begins == DAY_MINUTES:
            return range(begins, ends, every)
        if (day, every) not in self._cadences:
            found = [minute for minute in range(begins, ends) if self._wall_minutes(minute) % every == 0]
            self._cadences[day, every] = found
        return self._cadences[day, every]

    def _wall_minutes(self, minute: int) -> int:
        wall = self.clock.wall(instant_of(minute))
        return wall.hour * 60 + wall.minute

    def _closed_days(self, name: str) -> set[date]:
        return self._holidays[""] | self._holidays[name]

    def _day(self, minute: int) -> int:
        return self.clock.day(instant_of(minute)).toordinal()

    def _midnight(self, day: int) -> int:
        if day not in self._midnights:
            midnight = self.clock.at_or_after(date.fromordinal(day), time(0))
            self._midnights[day] = minute_until(midnight)
        return self._midnights[day]

    def _minute(self, day: int, wall: time) -> int:
        midnight = self._midnight(day)
        if self._midnight(day + 1) - midnight == DAY_MINUTES:
            return midnight + wall.hour * 60 + wall.minute
        return minute_until(self.clock.at_or_after(date.fromordinal(day), wall))


def make_calendar(site: Site) -> Calendar:
    """The calendar of a site's stations, hours, departures and holidays."""
    calendar = Calendar(site.settings.site_clock, site.stations.values())
    calendar.add(site.hours, site.departures, site.holidays)
    return calendar
