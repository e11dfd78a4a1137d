"""Which day's carts are built when nobody says: tomorrow's in the evening, after midnight those of the same shift."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime

import pytest

from picklist.model.schedule import Case, CaseStatus
from picklist.model.site import Site, Unread
from picklist.tasks.errors import WrongUse
from picklist.tasks.read_folder import choose_day
from tests.builders import DAY, at, case, utc_settings

FRIDAY = date(2026, 11, 27)
THURSDAYS = (case("A", "07:30", 60), case("B", "08:00", 60, "OR 2"), case("C", "10:00", 60))


def fridays() -> tuple[Case, ...]:
    return tuple(replace(one, number=f"F-{one.number}", day=FRIDAY, start=at("08:00", 1)) for one in THURSDAYS)


def chosen(now: datetime, *cases: Case) -> date:
    return choose_day(Site(settings=utc_settings(), cases=cases), now, None)


@pytest.mark.parametrize(
    ("now", "day"),
    [
        (at("18:00", -1), DAY),
        (at("00:30"), DAY),  # the evening shift, past midnight
        (at("07:45"), DAY),  # one of three has begun
        (at("08:15"), FRIDAY),  # two of three have
        (at("18:00"), FRIDAY),
        (at("00:30", 1), FRIDAY),
        (at("11:00", -3), DAY),
    ],
)
def test_the_day_of_the_next_carts(now: datetime, day: date) -> None:
    assert chosen(now, *THURSDAYS, *fridays()) == day


def test_in_the_evening_a_late_case_of_today_does_not_hold_tomorrow_up() -> None:
    late = case("L", "22:00", 60)
    assert chosen(at("18:00"), late, *fridays()) == FRIDAY
    assert chosen(at("18:00"), late) == DAY


def test_a_case_that_runs_since_midnight_leaves_the_day_to_the_others() -> None:
    emergency = case("E", "00:10", 120, "OR 9", status=CaseStatus.RUNNING)
    assert chosen(at("00:30"), emergency, *THURSDAYS, *fridays()) == DAY


def test_the_wall_clock_of_the_site_counts() -> None:
    """00:30 in Chicago on the 26th is 06:30 UTC; 22:00 there on the 25th is 04:00 UTC on the 26th."""
    cases = tuple(replace(one, start=at("13:30")) for one in THURSDAYS)
    site = Site(settings=replace(utc_settings(), time_zone="America/Chicago"), cases=(*cases, *fridays()))
    assert choose_day(site, at("06:30"), None) == DAY
    assert choose_day(site, at("04:00"), None) == DAY


def test_when_nothing_is_to_come_the_days_are_named() -> None:
    with pytest.raises(WrongUse, match="the schedule has 2026-11-26"):
        chosen(at("18:00"), *THURSDAYS)


def test_a_case_whose_row_cannot_be_read_is_named_where_no_other_is_left() -> None:
    """Its room is mistyped, so that it has no place in the plan: the schedule is not empty."""
    site = Site(settings=utc_settings(), unread=Unread(cases=frozenset({"C-7"})))
    said = "case C-7 is on hold, because the schedule cannot be read there: picklist check says what to fix"
    with pytest.raises(WrongUse) as refused:
        choose_day(site, at("18:00", -1), None)
    assert str(refused.value) == f"no case can be planned; {said}"
    with pytest.raises(WrongUse) as refused:
        choose_day(site, at("18:00", -1), DAY)
    assert str(refused.value) == f"no case is planned on 2026-11-26; the schedule has none; {said}"
    with pytest.raises(WrongUse) as refused:
        choose_day(replace(site, cases=THURSDAYS), at("18:00"), None)
    assert str(refused.value).startswith("no case starts after Thu 26 Nov 18:00; the schedule has 2026-11-26; case C-7")
