"""An hour more at a station is put on at the end of its day, not into its breaks."""

from __future__ import annotations

from datetime import time

from picklist.department.improvements import lengthen
from picklist.model.routes import WorkPeriod


def period(opens: str, closes: str, weekday: int = 0, station: str = "assembly") -> WorkPeriod:
    return WorkPeriod(
        station=station, weekday=weekday, opens=time.fromisoformat(opens), closes=time.fromisoformat(closes)
    )


def test_that_a_day_with_a_break_keeps_it() -> None:
    day = (period("06:00", "12:00"), period("12:30", "23:30"))
    assert lengthen(day, {"assembly"}, 60, earlier=True) == (period("05:00", "12:00"), day[1])
    assert lengthen(day, {"assembly"}, 60, earlier=False) == (day[0], period("12:30", "00:30"))


def test_that_an_earlier_opening_may_fall_on_the_eve() -> None:
    assert lengthen((period("00:30", "08:00"),), {"assembly"}, 60, earlier=True) == (period("23:30", "08:00", 6),)


def test_that_a_station_that_works_round_the_clock_and_other_stations_stay_as_they_are() -> None:
    hours = (period("00:00", "00:00"), period("06:00", "22:00", station="sinks"))
    assert lengthen(hours, {"assembly"}, 60, earlier=False) == hours
