"""The site's clock against the time-zone database's own program: `zdump -v -c 2026,2027`, release 2025b."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta

import pytest

from picklist.clock import NoSuchTimeError, SiteClock

# Instants of 2026 in UTC, and minutes ahead of UTC before and after.
CHANGES = """
Europe/London 03-29T01:00 0 60 / 10-25T01:00 60 0
Europe/Dublin 03-29T01:00 0 60 / 10-25T01:00 60 0
Europe/Berlin 03-29T01:00 60 120 / 10-25T01:00 120 60
America/New_York 03-08T07:00 -300 -240 / 11-01T06:00 -240 -300
America/Chicago 03-08T08:00 -360 -300 / 11-01T07:00 -300 -360
America/Denver 03-08T09:00 -420 -360 / 11-01T08:00 -360 -420
America/Los_Angeles 03-08T10:00 -480 -420 / 11-01T09:00 -420 -480
America/St_Johns 03-08T05:30 -210 -150 / 11-01T04:30 -150 -210
America/Santiago 04-05T03:00 -180 -240 / 09-06T04:00 -240 -180
Africa/Casablanca 02-15T02:00 60 0 / 03-22T02:00 0 60
Africa/Cairo 04-23T22:00 120 180 / 10-29T21:00 180 120
Asia/Jerusalem 03-27T00:00 120 180 / 10-24T23:00 180 120
Australia/Sydney 04-04T16:00 660 600 / 10-03T16:00 600 660
Australia/Lord_Howe 04-04T15:00 660 630 / 10-03T15:30 630 660
Pacific/Auckland 04-04T14:00 780 720 / 09-26T14:00 720 780
Pacific/Chatham 04-04T14:00 825 765 / 09-26T14:00 765 825
"""
ZONES = [line.split(maxsplit=1) for line in CHANGES.strip().splitlines()]
MINUTE = timedelta(minutes=1)


@pytest.mark.parametrize(("zone", "changes"), ZONES, ids=[zone for zone, _ in ZONES])
def test_that_the_clock_changes_when_the_zone_does(zone: str, changes: str) -> None:
    clock = SiteClock(zone)
    for change in changes.split(" / "):
        at, before, after = change.split()
        instant = datetime.fromisoformat(f"2026-{at}").replace(tzinfo=UTC)
        assert clock.wall(instant - MINUTE).utcoffset() == int(before) * MINUTE
        assert clock.wall(instant).utcoffset() == int(after) * MINUTE
        check_night(clock, instant, (int(after) - int(before)) * MINUTE)


def check_night(clock: SiteClock, instant: datetime, jump: timedelta) -> None:
    """What the wall clock skips is no time; what it shows twice is told apart, and the first is meant."""
    last = clock.wall(instant - MINUTE).replace(tzinfo=None)
    if jump > timedelta():
        for skipped in (last + MINUTE, last + jump):
            with pytest.raises(NoSuchTimeError):
                clock.instant(skipped.date(), skipped.time())
            assert clock.at_or_after(skipped.date(), skipped.time()) == instant
        assert clock.instant(*day_and_time(last + MINUTE + jump)) == instant
    else:
        assert clock.instant(*day_and_time(last)) == instant - MINUTE
        assert clock.stamp(instant - MINUTE) != clock.stamp(instant - MINUTE - jump)


def day_and_time(wall: datetime) -> tuple[date, time]:
    return wall.date(), wall.time()


@pytest.mark.parametrize("zone", ["America/Phoenix", "America/Sao_Paulo", "Asia/Kolkata", "Asia/Tehran"])
def test_that_a_clock_without_a_change_has_none(zone: str) -> None:
    clock = SiteClock(zone)
    hours = (datetime(2026, 1, 1, tzinfo=UTC) + timedelta(hours=n) for n in range(365 * 24))
    assert len({clock.wall(hour).utcoffset() for hour in hours}) == 1
