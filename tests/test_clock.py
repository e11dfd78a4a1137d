"""The wall clock of a site in the nights in which it changes."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta

import pytest

from picklist.clock import NoSuchTimeError, SiteClock

BERLIN, CHICAGO = SiteClock("Europe/Berlin"), SiteClock("America/Chicago", hours=12)


@pytest.mark.parametrize(
    ("clock", "instant", "read"),
    [
        (BERLIN, datetime(2026, 10, 24, 23, 59, tzinfo=UTC), "Sun 25 Oct 01:59"),
        (BERLIN, datetime(2026, 10, 25, 0, 10, tzinfo=UTC), "Sun 25 Oct 02:10 CEST"),
        (BERLIN, datetime(2026, 10, 25, 1, 10, tzinfo=UTC), "Sun 25 Oct 02:10 CET"),
        (BERLIN, datetime(2026, 10, 25, 2, 0, tzinfo=UTC), "Sun 25 Oct 03:00"),
        (CHICAGO, datetime(2026, 11, 1, 6, 30, tzinfo=UTC), "Sun 1 Nov 1:30 am CDT"),
        (CHICAGO, datetime(2026, 11, 1, 7, 30, tzinfo=UTC), "Sun 1 Nov 1:30 am CST"),
        (BERLIN, datetime(2027, 3, 28, 0, 59, tzinfo=UTC), "Sun 28 Mar 01:59"),
        (BERLIN, datetime(2027, 3, 28, 1, 0, tzinfo=UTC), "Sun 28 Mar 03:00"),
    ],
)
def test_the_hour_that_comes_twice_is_told_apart(clock: SiteClock, instant: datetime, read: str) -> None:
    """Rules of the European Union and of the United States as the IANA database has them."""
    assert clock.stamp(instant) == read
    assert read.endswith(clock.hhmm(instant))


def test_no_two_minutes_of_the_night_read_alike() -> None:
    start = datetime(2026, 10, 24, 20, 0, tzinfo=UTC)
    read = [BERLIN.stamp(start + timedelta(minutes=minute)) for minute in range(12 * 60)]
    assert len(set(read)) == len(read)


def test_of_two_equal_times_the_first_is_meant_and_one_that_is_skipped_does_not_exist() -> None:
    assert BERLIN.instant(date(2026, 10, 25), time(2, 10)) == datetime(2026, 10, 25, 0, 10, tzinfo=UTC)
    with pytest.raises(NoSuchTimeError):
        BERLIN.instant(date(2027, 3, 28), time(2, 30))


def test_what_ends_at_midnight_has_the_day_before_as_its_last() -> None:
    assert BERLIN.last_day(BERLIN.instant(date(2026, 11, 21), time(0))) == date(2026, 11, 20)
    assert BERLIN.last_day(BERLIN.instant(date(2026, 11, 21), time(0, 1))) == date(2026, 11, 21)
