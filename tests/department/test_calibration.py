"""Do the chances come true: against published scores, a plain simulation, and pasts whose truth is known."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import timedelta
from math import exp, log

import pytest

from picklist.clock import shift
from picklist.department.case_minutes import spread_of_variation
from picklist.department.judge_forecasts import (
    Forecast,
    brier_score,
    calibrate,
    forecast_cases,
    in_order,
    late_by,
    make_bins,
    split,
)
from picklist.model.calibration import Agreement, Calibration, TimeOrder
from picklist.model.schedule import PastCase
from picklist.model.site import Site
from tests.builders import at
from tests.department.ward import ward

TURNOVER = 25


def past_days(cases: int, *, spread: float = 0.3, seed: int = 1, later_spread: float | None = None) -> list[PastCase]:
    """Three rooms of three cases a day; minutes lognormal and right on plan in the mean, first cases late in half."""
    stream = random.Random(seed)
    found: list[PastCase] = []
    for number in range(cases):
        day, turn = divmod(number, 9)
        room, place = divmod(turn, 3)
        wide = later_spread if later_spread and number >= cases * 2 // 3 else spread
        planned = at(("07:30", "10:00", "12:30")[place], day - cases // 9 - 1)
        before = found[-1] if place else None
        begins = planned
        if before is not None and before.actual_start is not None:
            begins = max(begins, shift(before.actual_start, before.actual_minutes + TURNOVER))
        elif stream.random() < 0.5:
            begins = shift(begins, max(1, round(stream.lognormvariate(log(12), 1.0))))
        minutes = max(1, round(120 * exp(stream.gauss(-(wide**2) / 2, wide))))
        found.append(
            PastCase(
                procedure="KNEE",
                surgeon="S1",
                planned_minutes=120,
                actual_minutes=minutes,
                room=f"OR {room}",
                planned_start=planned,
                actual_start=begins,
            )
        )
    return found


def site_with(past: list[PastCase]) -> Site:
    return replace(ward(turnover=TURNOVER), past_cases=tuple(past))


def judged(past: list[PastCase], draws: int = 1000) -> Calibration:
    return calibrate(site_with(past), draws=draws, seed=1)


@pytest.mark.parametrize(
    ("forecast", "rain", "score"), [(1.0, True, 0.0), (1.0, False, 1.0), (0.7, True, 0.09), (0.3, True, 0.49)]
)
def test_that_the_brier_score_of_one_forecast_is_the_textbooks(forecast: float, rain: bool, score: float) -> None:
    """Rain or not, as rdrr.io/github/chuvanan/metrics works it out (after the encyclopedia article "Brier score")."""
    assert brier_score([(forecast, rain)]) == pytest.approx(score)


@pytest.mark.parametrize(
    ("score", "base", "skill"),
    [(0.144, 0.179, 0.194), (0.037, 0.054, 0.312), (0.178, 0.187, 0.047), (0.044, 0.051, 0.146)],
)
def test_that_the_skill_is_that_of_published_rain_forecasts(score: float, base: float, skill: float) -> None:
    """Chances of rain, 24 and 48 hours ahead (cawcr.gov.au/projects/verification/POP3): score, uncertainty, skill.

    Printed to three places, so the skill that they give is right to about 0.015.
    """
    found = replace(judged(past_days(9)), brier=score, brier_base=base)
    assert found.skill == pytest.approx(skill, abs=0.015)


def test_that_the_base_rate_scores_its_own_variance() -> None:
    """It rained on 3 of 10 days: always saying 0.3 scores 0.3 x 0.7 = 0.21."""
    assert brier_score([(0.3, day < 3) for day in range(10)]) == pytest.approx(0.21)


def test_that_forecasts_fall_into_the_bins_that_hold_them() -> None:
    chances = [0.0002, 0.009, 0.01, 0.1, 0.55, 0.99, 0.9998]
    found = make_bins([Forecast(case=n, margin=0, chance=one, happened=n > 3) for n, one in enumerate(chances)])
    assert [(one.low, one.forecasts, one.happened) for one in found] == [
        (0.0, 2, 0),
        (0.01, 1, 0),
        (0.1, 1, 0),
        (0.5, 1, 1),
        (0.99, 2, 2),
    ]
    assert {one.agreement for one in found} == {Agreement.TOO_FEW}


def test_that_a_forecast_agrees_with_a_plain_simulation_of_the_day() -> None:
    """One room, cases planned for 120 min at 07:30 and 10:00, turned over in 25: five minutes between them to spare.

    No past: minutes and starts as published, late starts of the second case as assumed (one in four, 10 min in the
    middle). Each minute of the day is added up here by hand.
    """
    later = past_days(9)[:2]
    spread, stream, tries = spread_of_variation(0.557), random.Random(4), 20000
    beyond = dict.fromkeys((0, 15, 30, 60), 0)
    for _ in range(tries):
        late = round(stream.lognormvariate(log(12), 1.0277)) if stream.random() < 0.55 else 0
        first_ends = 450 + late + round(120 * exp(stream.gauss(spread.mu, spread.sigma)))
        own = round(stream.lognormvariate(log(10), 1.0)) if stream.random() < 0.25 else 0
        ends = max(600, first_ends + TURNOVER) + own + round(120 * exp(stream.gauss(spread.mu, spread.sigma)))
        for margin in beyond:
            beyond[margin] += ends > 720 + margin
    forecasts = forecast_cases(site_with([]), later, draws=20000, seed=1)
    for one in forecasts:
        if one.case == 1:
            assert one.chance == pytest.approx(beyond[one.margin] / tries, abs=0.02)


def test_that_a_past_that_goes_on_as_before_comes_true() -> None:
    found = judged(past_days(900, seed=5))
    assert (found.order, found.fitted, found.judged, found.followed) == (TimeOrder.START, 594, 306, 306)
    told = [one for one in found.bins if one.agreement is not Agreement.TOO_FEW]
    assert len(told) >= 6
    assert {one.agreement for one in told} == {Agreement.AS_FORECAST}
    assert found.brier < found.brier_base
    assert all(abs(one.forecast - one.happened / one.cases) < 0.07 for one in found.margins)


def test_that_what_is_forecast_as_nearly_never_does_not_happen_often() -> None:
    """Few past cases, that happen to lie near their plan, must not make what lies beyond them impossible."""
    found = judged(past_days(99, spread=0.15), draws=500)
    seldom = [one for one in found.bins if one.high <= 0.1]
    assert seldom
    assert all(one.lowest <= one.forecast for one in seldom)
    assert min(one.forecast for one in found.bins) > 0


def test_that_a_past_that_changed_is_seen() -> None:
    """From two thirds on the minutes spread twice as wide: long overruns come oftener than forecast."""
    found = judged(past_days(600, spread=0.15, later_spread=0.5))
    assert [one for one in found.bins if one.agreement is Agreement.MORE_OFTEN and one.high <= 0.5]


def test_that_the_order_of_the_rows_does_not_matter_where_starts_are_known() -> None:
    past = past_days(180)
    mixed = past.copy()
    random.Random(7).shuffle(mixed)
    assert judged(past, draws=200) == judged(mixed, draws=200)


def test_that_the_cases_of_one_day_are_not_parted() -> None:
    past, order = in_order(past_days(98 + 2))
    assert order is TimeOrder.START
    earlier, later = split(past, site_with([]))
    days = [{(one.planned_start or at("00:00")).date() for one in some} for some in (earlier, later)]
    assert not days[0] & days[1]
    assert max(days[0]) < min(days[1])


def test_that_cases_without_starts_are_judged_by_their_minutes_in_the_order_of_their_rows() -> None:
    past = [replace(one, planned_start=None, actual_start=None) for one in past_days(120)]
    found = judged(past, draws=200)
    assert (found.order, found.fitted, found.judged, found.followed, found.left_out) == (TimeOrder.ROW, 80, 40, 0, 0)
    assert late_by(past[0]) == past[0].actual_minutes - 120


def test_that_cases_without_a_start_are_left_out_where_others_have_one() -> None:
    past = past_days(99)
    found = judged([*past, replace(past[0], planned_start=None)], draws=200)
    assert (found.fitted + found.judged, found.left_out) == (99, 1)


def test_that_too_few_past_cases_are_not_judged() -> None:
    found = judged(past_days(89))
    assert found.too_few
    assert (found.fitted, found.needed, found.bins, found.skill) == (89, 90, (), 0.0)


def test_that_a_late_end_counts_from_the_planned_end() -> None:
    """Planned 07:30 for 120 min, started 07:42, took 130: ends 22 min after 09:30."""
    one = replace(past_days(9)[0], actual_start=past_days(9)[0].planned_start)
    assert one.planned_start is not None
    late = replace(one, actual_start=one.planned_start + timedelta(minutes=12), actual_minutes=130)
    assert late_by(late) == 22
