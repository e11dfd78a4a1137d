"""How late cases start: what the past says, told apart for first and later cases, and what is assumed without one."""

from __future__ import annotations

from dataclasses import replace
from math import log

import numpy as np
import pytest
from scipy import stats

from picklist.clock import SiteClock, shift
from picklist.department import draw_chances
from picklist.department.late_starts import (
    ASSUMED_ARRIVAL,
    ASSUMED_NEXT,
    PUBLISHED_FIRST,
    LateStarts,
    draw_lateness,
    fit_lateness,
    past_starts,
)
from picklist.model.department import LatenessFrom
from picklist.model.schedule import PastCase
from picklist.model.sets import SetState
from tests.builders import at, case, straight_route
from tests.department.ward import give, ward

CLOCK = SiteClock("UTC", 24)
NIGHT = at("00:00")


def past(room: str, planned: str, late: int, minutes: int = 60, actual: int | None = None, day: int = -7) -> PastCase:
    start = at(planned, day)
    return PastCase(
        procedure="KNEE",
        surgeon="S1",
        room=room,
        planned_minutes=minutes,
        actual_minutes=actual or minutes,
        planned_start=start,
        actual_start=shift(start, late),
    )


def test_that_the_published_start_has_the_published_quartiles() -> None:
    """Am J Surg 219 (2020) 486-489: 55 % late, the late ones by 12 min, quartiles 6 and 24; so their mean is 20.3."""
    late = stats.lognorm(PUBLISHED_FIRST.sigma, scale=PUBLISHED_FIRST.median)
    assert late.ppf([0.25, 0.5, 0.75]) == pytest.approx([6, 12, 24], abs=0.01)
    assert PUBLISHED_FIRST.sigma == pytest.approx(1.028, abs=0.001)
    assert late.mean() == pytest.approx(20.3, abs=0.1)
    minutes = draw_lateness(PUBLISHED_FIRST, np.random.default_rng(1), 40000)
    # What is drawn is whole minutes: the few late ones under half a minute count as in time.
    assert (minutes > 0).mean() == pytest.approx(0.55 * late.sf(0.5), abs=0.01)
    assert np.median(minutes[minutes > 0]) == pytest.approx(12, abs=1)
    assert minutes.mean() == pytest.approx(0.55 * 20.3, abs=0.5)


def test_that_a_first_case_is_late_from_its_plan_and_a_later_one_from_when_its_room_was_free() -> None:
    """OR 1: planned 07:30, starts 07:42, ends 08:52; with 30 min turnover the next may start 09:22, and does at 09:27.

    The third is planned for 11:00, long after its room is free, and starts at 11:08.
    """
    cases = [
        past("OR 1", "09:00", 27),
        past("OR 1", "07:30", 12, actual=70),
        past("OR 1", "11:00", 8),
        past("OR 2", "07:30", -5),
        past("OR 1", "07:30", 3, day=-6),
    ]
    found = past_starts(cases, CLOCK, turnover=30)
    assert sorted(found.first) == [0, 3, 12]
    assert sorted(found.later) == [5, 8]


def test_that_a_past_case_without_room_or_start_says_nothing_of_starts() -> None:
    bare = past("OR 1", "07:30", 12)
    cases = [replace(bare, room=""), replace(bare, actual_start=None), replace(bare, planned_start=None)]
    assert past_starts(cases, CLOCK, turnover=30) == past_starts([], CLOCK, turnover=30)


def test_that_the_fit_finds_what_was_drawn() -> None:
    stream = np.random.default_rng(2)
    minutes = [round(float(stream.lognormal(log(9), 0.8))) if stream.random() < 0.4 else 0 for _ in range(4000)]
    fitted = fit_lateness(minutes, PUBLISHED_FIRST)
    assert (fitted.source, fitted.cases) == (LatenessFrom.PAST, 4000)
    assert fitted.share == pytest.approx(0.4, abs=0.03)
    assert fitted.median == pytest.approx(9, rel=0.08)
    assert fitted.sigma == pytest.approx(0.8, rel=0.08)


def test_that_too_few_starts_leave_the_published_or_the_assumed_figure() -> None:
    few = [past("OR 1", "07:30", 5, day=-n) for n in range(2, 30)]
    known = LateStarts(few, CLOCK, 30)
    assert (known.first, known.later) == (PUBLISHED_FIRST, ASSUMED_NEXT)
    enough = LateStarts([*few, *(past("OR 2", "07:30", 5 + n, day=-n) for n in range(2, 30))], CLOCK, 30)
    assert enough.first.source is LatenessFrom.PAST
    assert 0.9 < enough.first.share < 1  # all were late, and yet the next may not be
    assert enough.later == ASSUMED_NEXT


def test_that_many_starts_with_few_late_ones_say_how_seldom_they_are() -> None:
    """Three of 98 were late: the share is theirs, the minutes of the late ones those that are assumed."""
    found = fit_lateness([0] * 95 + [4, 9, 30], ASSUMED_NEXT)
    assert found.share == pytest.approx(4 / 100)
    assert (found.median, found.sigma) == (ASSUMED_NEXT.median, ASSUMED_NEXT.sigma)
    assert (found.source, found.cases) == (LatenessFrom.PAST, 98)


def test_that_a_loan_may_come_late() -> None:
    """Due at 08:00, ready 11:10 after its whole route, needed at 11:30: late when it comes over 20 minutes late.

    Assumed without a source: one in four comes late, half of these by over an hour.
    """
    site = ward({"WRIST": 1}, route=straight_route("R", ("wash", 120, 100), ("steam", 70, 60)))
    loan = replace(site.sets["WRIST-01"], state=SetState.ON_LOAN, back_at=at("08:00"))
    site = replace(site, sets={"WRIST-01": loan})
    waiter = case("21", "12:00", 60)
    given, reuses = give(site, NIGHT, ("WRIST-01", (waiter,)))
    report = draw_chances(site, [waiter], given, reuses, NIGHT, draws=20000, seed=1)
    assert report.drawn_from is not None
    assert report.drawn_from.arrivals == ASSUMED_ARRIVAL
    (reuse,) = report.reuses
    late = stats.lognorm(ASSUMED_ARRIVAL.sigma, scale=ASSUMED_ARRIVAL.median)
    assert reuse.fails == pytest.approx(ASSUMED_ARRIVAL.share * late.sf(20.5), abs=0.012)


def test_that_a_set_in_the_house_that_nobody_gives_back_has_no_chance() -> None:
    """Dirty at midnight and needed in the afternoon: it is late or it is not, whatever is drawn."""
    site = ward({"WRIST": 1}, route=straight_route("R", ("wash", 120, 100)))
    site = replace(site, sets={"WRIST-01": replace(site.sets["WRIST-01"], state=SetState.DIRTY)})
    waiter = case("21", "14:00", 60)
    given, reuses = give(site, NIGHT, ("WRIST-01", (waiter,)))
    assert reuses
    assert draw_chances(site, [waiter], given, reuses, NIGHT, draws=100, seed=1).reuses == ()
