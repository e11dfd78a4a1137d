"""Working hours, fixed starts and departures: over midnight, weekends, holidays and changes of the clock."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from picklist.clock import SiteClock
from picklist.model.routes import Departure, Holiday, Station, WorkPeriod
from picklist.model.site import Site
from picklist.sets.calendar import Calendar, instant_of, make_calendar, minute_from, minute_until
from picklist.settings import Settings
from tests.patience import tries

CHICAGO = "America/Chicago"
AUTUMN, SPRING = date(2026, 11, 1), date(2027, 3, 14)  # both are Sundays


def make(zone: str = CHICAGO, **groups: object) -> Calendar:
    return make_calendar(Site(settings=Settings(site="Example Hospital", time_zone=zone), **groups))  # type: ignore[arg-type]


def shifts(days: str, opens: str, closes: str, station: str = "crew") -> tuple[WorkPeriod, ...]:
    names = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
    return tuple(
        WorkPeriod(station=station, weekday=names.index(day), opens=wall(opens), closes=wall(closes))
        for day in days.split()
    )


def wall(text: str) -> time:
    return time.fromisoformat(text)


def local(stamp: str, zone: str = CHICAGO) -> datetime:
    """``local("2026-11-26 14:00")`` on the site's wall clock; of two equal times the first."""
    day, clock = stamp.split()
    return SiteClock(zone).instant(date.fromisoformat(day), wall(clock))


def turn(calendar: Calendar, minutes: int, after: datetime, station: str = "crew", run: str = "") -> datetime | None:
    start_slots = calendar.start_slots(station, run, minutes)
    assert start_slots is not None
    begin = start_slots.begin_from(minute_from(after))
    return None if begin is None else instant_of(begin)


def last_turn(calendar: Calendar, minutes: int, by: datetime) -> datetime | None:
    start_slots = calendar.start_slots("crew", "", minutes)
    assert start_slots is not None
    begin = start_slots.begin_to_end_by(minute_until(by))
    return None if begin is None else instant_of(begin)


def test_a_station_without_hours_begins_at_any_time() -> None:
    assert make().start_slots("washers", "", 50) is None


def test_a_cycle_is_not_begun_twenty_minutes_before_closing() -> None:
    calendar = make(hours=shifts("Mon Tue Wed Thu Fri", "06:00", "23:00"))
    assert turn(calendar, 70, local("2026-11-24 21:50")) == local("2026-11-24 21:50")
    assert turn(calendar, 70, local("2026-11-24 21:51")) == local("2026-11-25 06:00")


def test_a_cycle_that_may_run_past_closing_waits_for_opening() -> None:
    calendar = make(
        hours=shifts("Mon Tue Wed Thu Fri", "06:00", "23:00"),
        stations={"crew": Station(id="crew", past_closing=True)},
    )
    start_slots = calendar.start_slots("crew", "", 70)
    assert start_slots is not None
    late = start_slots.begin_from(minute_from(local("2026-11-24 22:59")))
    assert late == minute_from(local("2026-11-24 22:59"))
    assert start_slots.end(late) == minute_from(local("2026-11-25 06:00"))
    assert turn(calendar, 70, local("2026-11-24 23:00")) == local("2026-11-25 06:00")
    friday = start_slots.begin_from(minute_from(local("2026-11-27 22:30")))
    assert friday is not None
    assert start_slots.end(friday) == minute_from(local("2026-11-30 06:00"))
    assert last_turn(calendar, 70, local("2026-11-25 06:00")) == local("2026-11-24 22:59")
    assert last_turn(calendar, 70, local("2026-11-25 05:59")) == local("2026-11-24 21:50")


def test_a_shift_over_midnight_is_one_window() -> None:
    calendar = make(hours=shifts("Mon Tue Wed Thu Fri", "14:00", "02:00"))
    assert turn(calendar, 60, local("2026-11-24 23:30")) == local("2026-11-24 23:30")
    assert turn(calendar, 60, local("2026-11-25 01:30")) == local("2026-11-25 14:00")
    assert turn(calendar, 60, local("2026-11-28 01:30")) == local("2026-11-30 14:00")  # over the weekend


def test_hours_from_midnight_to_midnight_never_close() -> None:
    calendar = make(hours=shifts("Mon Tue Wed Thu Fri Sat Sun", "00:00", "00:00"))
    assert turn(calendar, 2000, local("2026-11-24 23:30")) == local("2026-11-24 23:30")


def test_a_listed_holiday_closes_one_station_or_all() -> None:
    thursday = date(2026, 11, 26)
    daily = shifts("Mon Tue Wed Thu Fri Sat Sun", "06:00", "22:00") + shifts("Thu", "06:00", "22:00", "other")
    one = make(hours=daily, holidays=(Holiday(day=thursday, station="crew"),))
    assert turn(one, 60, local("2026-11-26 09:00")) == local("2026-11-27 06:00")
    assert turn(one, 60, local("2026-11-26 09:00"), "other") == local("2026-11-26 09:00")
    every = make(hours=daily, holidays=(Holiday(day=thursday),))
    assert turn(every, 60, local("2026-11-26 09:00"), "other") == local("2026-12-03 06:00")
    assert turn(every, 60, local("2026-11-26 09:00"), "always open") == local("2026-11-27 00:00")


def test_the_night_shift_of_the_eve_ends_on_the_holiday() -> None:
    calendar = make(
        hours=shifts("Mon Tue Wed Thu Fri", "22:00", "06:00"),
        holidays=(Holiday(day=date(2026, 11, 26), station="crew"),),
    )
    assert turn(calendar, 60, local("2026-11-26 03:00")) == local("2026-11-26 03:00")
    assert turn(calendar, 60, local("2026-11-26 22:00")) == local("2026-11-27 22:00")


def test_runs_leave_on_their_weekdays_and_not_on_holidays() -> None:
    calendar = make(
        departures=tuple(Departure(run="van", weekday=day, leaves=wall("13:00")) for day in (2, 3, 4)),
        holidays=(Holiday(day=date(2026, 11, 26), station="van"),),
    )
    assert turn(calendar, 40, local("2026-11-25 13:00"), "", "van") == local("2026-11-25 13:00")
    assert turn(calendar, 40, local("2026-11-25 13:01"), "", "van") == local("2026-11-27 13:00")
    assert turn(calendar, 40, local("2026-11-27 13:01"), "", "van") == local("2026-12-02 13:00")


def test_a_run_that_nobody_listed_never_leaves() -> None:
    assert turn(make(), 40, local("2026-11-25 13:00"), "", "ferry") is None


def test_a_station_whose_hours_are_too_short_never_takes_the_step() -> None:
    assert turn(make(hours=shifts("Mon Tue", "06:00", "07:00")), 61, local("2026-11-25 13:00")) is None


def test_fixed_starts_count_only_inside_working_hours() -> None:
    calendar = make(
        hours=shifts("Mon Tue Wed Thu Fri", "06:10", "16:00"),
        stations={"crew": Station(id="crew", start_every=60)},
    )
    assert turn(calendar, 60, local("2026-11-24 05:00")) == local("2026-11-24 07:00")
    assert turn(calendar, 60, local("2026-11-24 14:01")) == local("2026-11-24 15:00")
    assert turn(calendar, 61, local("2026-11-24 14:01")) == local("2026-11-25 07:00")


def test_listed_start_times_of_a_station() -> None:
    calendar = make(stations={"crew": Station(id="crew", start_times=(wall("17:30"), wall("09:00")))})
    assert turn(calendar, 60, local("2026-11-24 09:01")) == local("2026-11-24 17:30")
    assert turn(calendar, 60, local("2026-11-24 17:31")) == local("2026-11-25 09:00")


def minutes_open(calendar: Calendar, day: date) -> list[int]:
    noon = datetime(day.year, day.month, day.day, 18, tzinfo=UTC)
    windows = calendar.windows("crew", noon - timedelta(days=1), noon + timedelta(days=1))
    return [minute_from(closes) - minute_from(opens) for opens, closes in windows]


@pytest.mark.parametrize(("day", "hours"), [(AUTUMN, 9), (SPRING, 7), (date(2026, 11, 8), 8)])
def test_a_night_shift_is_as_long_as_the_night(day: date, hours: int) -> None:
    calendar = make(hours=shifts("Sat", "22:00", "06:00"))
    assert minutes_open(calendar, day) == [hours * 60]


@pytest.mark.parametrize(("day", "hours"), [(AUTUMN, 25), (SPRING, 23), (date(2026, 11, 8), 24)])
def test_a_whole_day_has_23_or_25_hours_when_the_clock_changes(day: date, hours: int) -> None:
    calendar = make(hours=shifts("Sun", "00:00", "00:00"))
    assert minutes_open(calendar, day) == [hours * 60]


def test_a_cadence_is_kept_in_the_hour_that_comes_twice_and_a_listed_time_is_not() -> None:
    first = local("2026-11-01 01:30")
    cadence = make(stations={"crew": Station(id="crew", start_every=30)})
    assert turn(cadence, 10, first + timedelta(minutes=31)) == first + timedelta(minutes=60)
    listed = make(stations={"crew": Station(id="crew", start_times=(wall("01:30"),))})
    assert turn(listed, 10, first + timedelta(minutes=1)) == local("2026-11-02 01:30")


def test_an_hour_that_the_spring_skips_is_the_moment_of_the_jump() -> None:
    jump = local("2027-03-14 03:00")
    run = make(departures=(Departure(run="van", weekday=6, leaves=wall("02:30")),))
    assert turn(run, 10, local("2027-03-13 12:00"), "", "van") == jump
    opening = make(hours=shifts("Sun", "02:15", "12:00"))
    assert turn(opening, 10, local("2027-03-14 00:00")) == jump
    closing = make(hours=shifts("Sat", "22:00", "02:45"))
    assert last_turn(closing, 10, local("2027-03-14 12:00")) == jump - timedelta(minutes=10)


def test_half_an_hour_is_skipped_on_lord_howe() -> None:
    clock = SiteClock("Australia/Lord_Howe")
    assert clock.at_or_after(date(2026, 10, 4), wall("02:10")) == clock.instant(date(2026, 10, 4), wall("02:30"))


def test_answers_do_not_depend_on_what_was_asked_before() -> None:
    hours = shifts("Mon Wed", "06:00", "14:00")
    asked, fresh = make(hours=hours), make(hours=hours)
    for day in (400, -300, 0, 90):
        turn(asked, 60, local("2026-11-24 09:00") + timedelta(days=day))
    for day in (-301, 5, 91, 399):
        instant = local("2026-11-24 09:00") + timedelta(days=day)
        assert turn(asked, 60, instant) == turn(fresh, 60, instant)


# An independent reckoning: minute by minute, straight from the words of the tables.

DAYS = [(CHICAGO, AUTUMN), (CHICAGO, SPRING), ("Australia/Lord_Howe", date(2027, 4, 4)), ("UTC", date(2026, 11, 26))]
WALLS = st.integers(0, 47).map(lambda half: time(half // 2, half % 2 * 30))


def works(clock: SiteClock, periods: list[WorkPeriod], closed: date, minute: int) -> bool:
    """Whether a minute lies in a shift, of this day or the one before."""
    instant = instant_of(minute)
    for back in (0, 1):
        day = clock.day(instant) - timedelta(days=back)
        for period in periods:
            over = period.closes <= period.opens
            begins = clock.at_or_after(day, period.opens)
            ends = clock.at_or_after(day + timedelta(days=int(over)), period.closes)
            if period.weekday == day.weekday() and day != closed and begins <= instant < ends:
                return True
    return False


@given(
    st.sampled_from(DAYS),
    st.lists(st.tuples(st.sampled_from([5, 6, 0]), WALLS, WALLS), min_size=1, max_size=3),
    st.integers(1, 400),
    st.sampled_from([0, 20, 60]),
    st.booleans(),
    st.integers(-600, 900),
)
@settings(max_examples=tries(60))
def test_turns_agree_with_a_reckoning_minute_by_minute(
    place: tuple[str, date], rows: list[tuple[int, time, time]], minutes: int, every: int, past: bool, offset: int
) -> None:
    zone, change = place
    clock = SiteClock(zone)
    periods = [
        WorkPeriod(station="crew", weekday=(day - 6 + change.weekday()) % 7, opens=opens, closes=closes)
        for day, opens, closes in rows
    ]
    closed = change + timedelta(days=1)
    calendar = make(
        zone,
        hours=tuple(periods),
        holidays=(Holiday(day=closed, station="crew"),),
        stations={"crew": Station(id="crew", start_every=every, past_closing=past)},
    )
    start = minute_from(clock.at_or_after(change, time(6))) + offset
    reach = 1440
    line = [works(clock, periods, closed, minute) for minute in range(start, start + reach + minutes)]

    def begins(at: int) -> bool:
        shown = clock.wall(instant_of(start + at))
        on_time = not every or (shown.hour * 60 + shown.minute) % every == 0
        return on_time and (line[at] if past else all(line[at : at + minutes]))

    expected = next((start + at for at in range(reach) if line[at] and begins(at)), None)
    start_slots = calendar.start_slots("crew", "", minutes)
    assert start_slots is not None
    found = start_slots.begin_from(start)
    assert found == expected if expected is not None else found is None or found >= start + reach
    if found is None or found != expected:
        return
    done = found + minutes - start
    out = next((at for at in range(done, len(line)) if line[at] or line[at - 1]), None) if past else done
    if out is not None:
        assert start_slots.end(found) == start + out
