"""Cases of the night before that still run past midnight: their sets come back, their carts are not built again.

Our own cases, worked by hand; no source. The minutes of the route are invented.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

import pytest

from picklist.documents.views.evening_sheet import EveningView
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.stamp import printing_of
from picklist.model.conflicts import ConflictKind
from picklist.model.schedule import Case, CaseStatus, StaffMember
from picklist.model.sets import InstrumentSet
from picklist.plan import PlanRequest, horizon_cases, make_plan
from picklist.settings import Settings
from tests.builders import DAY, at, case
from tests.plan.nights import cart_of, hospital, in_use, lines_of, planned, shelf

NIGHT = DAY - timedelta(days=1)


def last_night(number: str = "N1", start: str = "22:00", minutes: int = 240, **changes: object) -> Case:
    fields: dict[str, object] = {"day": NIGHT, "status": CaseStatus.RUNNING, "room": "OR 9"}
    made = case(number, start, minutes, **(fields | changes))  # type: ignore[arg-type]
    return replace(made, start=at(start, -1))


def test_a_set_that_is_in_use_past_midnight_comes_back_for_the_morning() -> None:
    # Out of the room at 02:00, received at 02:10 and ready at 05:10; the cart of M1 is due at 07:00.
    site = hospital((last_night(), case("M1", "07:30", 60)), (in_use("wrist-01", "N1"),))
    plan = planned(site, at("00:30"))
    (line,) = lines_of(plan, "M1")
    assert (line.set_id, line.expected, line.place_now) == ("wrist-01", at("05:10"), "in use, case N1")
    (reuse,) = plan.reuses
    assert (reuse.giver, reuse.waiter, reuse.slack) == ("N1", "M1", 110)
    assert [one.number for one in plan.cases] == ["N1", "M1"]
    assert plan.clusters == ()


def test_the_case_that_gives_the_set_back_is_named_with_its_room() -> None:
    site = hospital((last_night(), case("M1", "07:30", 60)), (in_use("wrist-01", "N1"),))
    found = Lookup(planned(site, at("00:30")))
    assert found.case_in_room("N1") == "N1 in OR 9"


def test_one_that_runs_past_its_planned_end_keeps_its_set_until_now_at_the_least() -> None:
    # Planned until 23:00, but still running at 00:30: the set leaves now, is received at 00:40, ready at 03:40.
    late = last_night(start="21:00", minutes=120)
    site = hospital((late, case("M1", "07:30", 60)), (in_use("wrist-01", "N1"),))
    plan = planned(site, at("00:30"))
    assert [one.number for one in plan.cases] == ["N1", "M1"]
    (line,) = lines_of(plan, "M1")
    assert (line.set_id, line.expected) == ("wrist-01", at("03:40"))


def test_that_case_has_no_cart_and_is_counted_nowhere() -> None:
    site = hospital((last_night(), case("M1", "07:30", 60)), (in_use("wrist-01", "N1"), shelf("wrist-02")))
    plan = planned(site, at("00:30"))
    assert [cart.case.number for cart in plan.carts] == ["M1"]
    found = Lookup(plan)
    sheet = EveningView(found, lambda _case: printing_of(plan))
    assert sheet.counts == "1 cart to build · 0 on hold · 1 tray · 0 conflicts · 0 items short"
    assert [row.case for row in sheet.carts] == ["M1"]


def test_the_surgeon_of_another_day_is_called_by_name_too() -> None:
    site = hospital((last_night(), case("M1", "07:30", 60)), (in_use("wrist-01", "N1"),))
    known = {f"S-{one}": StaffMember(id=f"S-{one}", name=f"Dr. {one}") for one in ("N1", "M1")}
    found = Lookup(planned(replace(site, staff=known), at("00:30")))
    assert [found.person(one) for one in ("S-N1", "S-M1")] == ["Dr. N1", "Dr. M1"]


def test_what_is_over_is_no_part_of_the_horizon() -> None:
    over = replace(last_night("N2", start="20:00", minutes=60), status=CaseStatus.DONE)
    forgotten = last_night("N3", start="20:00", minutes=60, status=CaseStatus.PLANNED)
    days_ago = replace(last_night("N4", day=NIGHT - timedelta(days=1), minutes=60), start=at("08:00", -2))
    site = hospital((over, forgotten, days_ago, case("M1", "07:30", 60)), (shelf("wrist-01"),))
    assert [one.number for one in horizon_cases(site, at("00:30"))] == ["M1"]


def test_a_planned_case_that_lasts_past_midnight_binds_a_set_until_it_ends() -> None:
    # Nobody recorded which set it has: it still wants one, and the morning gets that set after it.
    night = last_night(status=CaseStatus.PLANNED)
    site = hospital((night, case("M1", "07:30", 60)), (shelf("wrist-01"),))
    plan = planned(site, at("00:30"))
    assert [(one.use.case, one.set_id) for one in plan.assignments] == [("N1", "wrist-01"), ("M1", "wrist-01")]
    assert [one.released for one in plan.reuses] == [at("02:10")]


def test_a_set_that_cannot_be_back_by_the_morning_is_a_conflict_tied_to_the_night() -> None:
    # Ready at 08:10 by usual minutes and 07:10 by least: ten minutes short of 07:00.
    site = hospital((last_night(minutes=420), case("M1", "07:30", 60)), (in_use("wrist-01", "N1"),))
    plan = planned(site, at("00:30"))
    (cluster,) = plan.clusters
    assert cluster.cases == ("M1", "N1")
    assert [(one.kind, one.minutes, one.givers) for one in cluster.conflicts] == [(ConflictKind.SHORT, 70, ("N1",))]


@pytest.mark.parametrize(
    ("night", "now", "back"),
    [
        # Europe/Berlin: on 25 October 2026 03:00 becomes 02:00, on 28 March 2027 02:00 becomes 03:00.
        (date(2026, 10, 24), datetime(2026, 10, 24, 22, 30, tzinfo=UTC), datetime(2026, 10, 25, 3, 10, tzinfo=UTC)),
        (date(2027, 3, 27), datetime(2027, 3, 27, 23, 30, tzinfo=UTC), datetime(2027, 3, 28, 4, 10, tzinfo=UTC)),
    ],
)
def test_minutes_count_on_the_nights_of_the_clock_change(night: date, now: datetime, back: datetime) -> None:
    """240 minutes from 22:00 by the wall, 10 to decontamination, 180 of the route: whatever the wall clock shows."""
    settings = Settings(site="Example Hospital", time_zone="Europe/Berlin")
    clock = settings.site_clock
    start = clock.instant(night, time(22, 0))
    morning = night + timedelta(days=1)
    first = replace(last_night(day=night), start=start)
    second = replace(case("M1", "07:30", 60, day=morning), start=clock.instant(morning, time(7, 30)))
    site = hospital((first, second), (in_use("wrist-01", "N1"),), settings=settings)
    assert clock.day(now) == morning
    plan = make_plan(site, (), PlanRequest(day=morning, now=now, with_chance=False, with_remedies=False))
    (line,) = lines_of(plan, "M1")
    assert line.expected == start + timedelta(minutes=240 + settings.haul + 180) == back


def test_a_case_that_is_planned_over_midnight_of_the_day_itself_is_on_its_day() -> None:
    long = case("M1", "22:00", 240)
    site = hospital((long,), (InstrumentSet(id="wrist-01", tray="wrist"),))
    assert cart_of(planned(site, at("18:00", -1)), "M1").case.day == DAY
