"""How long cases take: lognormal fits, shrinking of surgeons towards procedures, and a published spread."""

from __future__ import annotations

from dataclasses import replace
from math import exp, log, sqrt

import numpy as np
import pytest
from scipy import stats

from picklist.department.case_minutes import (
    PUBLISHED_SPREAD,
    Groups,
    Spreads,
    draw_minutes,
    fit_groups,
    fit_lognormal,
    pooled_between,
    predicted,
    shrunk,
    spread_of_variation,
)
from picklist.department.ready_table import Minutes
from picklist.model.department import MinutesFrom
from picklist.model.schedule import Case, CaseStatus, PastCase
from tests.builders import at, case, utc_settings

SETTINGS = utc_settings()


def past(procedure: str, surgeon: str, ratios: list[float], planned: int = 1000) -> list[PastCase]:
    return [
        PastCase(procedure=procedure, surgeon=surgeon, planned_minutes=planned, actual_minutes=round(planned * ratio))
        for ratio in ratios
    ]


def some_ratios(count: int, mu: float, sigma: float, seed: int) -> list[float]:
    return [float(x) for x in np.exp(np.random.default_rng(seed).normal(mu, sigma, count))]


def test_that_the_fit_is_scipys() -> None:
    ratios = some_ratios(400, 0.1, 0.35, 7)
    mu, sigma = fit_lognormal([log(x) for x in ratios])
    shape, _, scale = stats.lognorm.fit(ratios, floc=0)
    assert mu == pytest.approx(log(scale), abs=1e-4)
    assert sigma == pytest.approx(shape, abs=1e-4)


def test_that_the_published_spread_has_the_published_parameters() -> None:
    """Stavrou et al., ISRN Surgery 2014: 115 min, SD 64: as lognormal mu 4.6100, sigma 0.5194."""
    assert pytest.approx(PUBLISHED_SPREAD, abs=5e-4) == 64 / 115
    spread = spread_of_variation(64 / 115)
    assert spread.sigma == pytest.approx(0.5194, abs=5e-5)
    assert log(115) + spread.mu == pytest.approx(4.6100, abs=2e-3)
    assert exp(spread.mu + spread.sigma**2 / 2) == pytest.approx(1)  # the mean of actual over planned minutes


def test_that_the_variance_components_are_those_of_the_analysis_of_variance() -> None:
    groups = {name: some_ratios(8, mu, 0.2, seed) for seed, (name, mu) in enumerate([("A", 0), ("B", 0.3), ("C", 0.1)])}
    fitted = fit_groups(groups)
    # For groups of equal size, F = (within + n between) / within.
    assert 1 + 8 * fitted.between / fitted.within == pytest.approx(stats.f_oneway(*groups.values()).statistic)


def test_that_unequal_groups_give_back_the_components_they_were_drawn_from() -> None:
    stream = np.random.default_rng(3)
    groups = {
        f"S{n}": [float(x) for x in stream.normal(mean, 0.3, size)]
        for n, (mean, size) in enumerate(zip(stream.normal(0.1, 0.2, 300), stream.integers(2, 30, 300), strict=True))
    }
    fitted = fit_groups(groups)
    assert sqrt(fitted.within) == pytest.approx(0.3, rel=0.05)
    assert sqrt(fitted.between) == pytest.approx(0.2, rel=0.1)


def test_that_a_surgeon_with_few_cases_is_pulled_towards_the_procedure() -> None:
    cases = [
        *past("KNEE", "quick", some_ratios(40, -0.2, 0.2, 1)),
        *past("KNEE", "slow", some_ratios(40, 0.4, 0.2, 2)),
        *past("KNEE", "slow too", some_ratios(6, 0.4, 0.2, 3)),
        *past("KNEE", "new", some_ratios(2, 1.5, 0.2, 4)),
    ]
    spreads = Spreads(cases, 0.5)
    assert spreads.of("KNEE", "slow").source is MinutesFrom.SURGEON
    own = {
        name: np.mean([log(c.actual_minutes / 1000) for c in cases if c.surgeon == name])
        for name in ("slow", "slow too")
    }
    whole = np.mean([log(c.actual_minutes / 1000) for c in cases])
    kept = {name: (spreads.of("KNEE", name).mu - whole) / (own[name] - whole) for name in own}
    assert 0.5 < kept["slow too"] < kept["slow"] < 1
    assert spreads.of("KNEE", "new") == spreads.of("KNEE", "nobody yet")
    assert spreads.of("KNEE", "new").source is MinutesFrom.PROCEDURE


def test_that_a_rare_procedure_takes_the_sites_spread_and_an_empty_site_the_published_one() -> None:
    many = past("KNEE", "A", some_ratios(40, 0, 0.2, 1))
    spreads = Spreads([*many, *past("HIP", "A", [2.0, 2.1])], 0.557)
    assert spreads.of("HIP", "A").source is MinutesFrom.SITE
    bare = Spreads(many[:9], 0.557)
    assert bare.of("KNEE", "A").source is MinutesFrom.PUBLISHED
    assert Spreads((), 0.4).of("KNEE", "A").source is MinutesFrom.SETTING


def test_that_ten_past_cases_leave_room_for_what_they_did_not_show() -> None:
    """The next of ten draws of a normal: Student's distribution with 9 degrees of freedom, 1.05 times as wide."""
    spread = predicted([log(x) for x in some_ratios(10, 0.0, 0.3, 5)], MinutesFrom.PROCEDURE)
    past_cases = past("KNEE", "A", some_ratios(10, 0.0, 0.3, 5), planned=1000)
    minutes = draw_minutes(
        replace(case("1", "07:30", 200), procedures=("KNEE",)),
        Spreads(past_cases, 0.5),
        SETTINGS,
        at("00:00"),
        draws=40000,
        seed=1,
    )
    far = exp(spread.mu + 3 * spread.sigma)
    assert (minutes > 200 * far).mean() == pytest.approx(stats.t.sf(3, 9), abs=0.0013)
    assert stats.t.sf(3, 9) > 5 * stats.norm.sf(3)


def draw(*cases: Case, now: str = "00:00", draws: int = 4000, seed: int = 1) -> Minutes:
    spreads = Spreads((), 0.557)
    return np.array([draw_minutes(one, spreads, SETTINGS, at(now), draws=draws, seed=seed) for one in cases])


def test_that_draws_have_the_mean_and_spread_asked_for() -> None:
    minutes = draw(case("1", "07:30", 115), draws=40000)[0]
    assert minutes.mean() == pytest.approx(115, rel=0.02)
    assert minutes.std() / minutes.mean() == pytest.approx(0.557, rel=0.03)


def test_that_a_case_keeps_its_draws_when_another_is_added() -> None:
    first, second = case("1", "07:30", 90), case("2", "08:00", 60)
    assert (draw(first)[0] == draw(second, first)[1]).all()
    assert (draw(first, seed=2) != draw(first)).any()


def test_that_a_running_case_has_not_ended_yet() -> None:
    """Half an hour past its plan; of the longer ones the share beyond 180 min is the lognormal's own."""
    running = replace(case("1", "07:30", 90), status=CaseStatus.RUNNING)
    minutes = draw(running, now="09:30", draws=20000)[0]
    assert minutes.min() >= 120
    spread = spread_of_variation(0.557)
    tail = stats.lognorm(spread.sigma, scale=90 * exp(spread.mu))
    assert (minutes > 180).mean() == pytest.approx(tail.sf(180.5) / tail.sf(119.5), abs=0.015)


def test_that_a_case_far_past_its_plan_still_gets_draws() -> None:
    running = replace(case("1", "07:30", 10), status=CaseStatus.RUNNING)
    assert (draw(running, now="17:30") >= 600).all()


def test_that_a_procedure_with_few_cases_is_drawn_to_the_others_and_one_with_many_is_not() -> None:
    """Ten procedures of 60 cases whose means differ by 0.2; one of ten cases happened to run half as long again."""
    cases = [one for n in range(10) for one in past(f"P{n}", "A", some_ratios(60, 0.2 * (n % 3 - 1), 0.4, n))]
    cases += past("RARE", "A", some_ratios(10, 0.4, 0.4, 99))
    spreads = Spreads(cases, 0.5)
    own = {
        name: float(np.mean([log(one.actual_minutes / 1000) for one in cases if one.procedure == name]))
        for name in ("RARE", "P2")
    }
    every = float(np.mean([log(one.actual_minutes / 1000) for one in cases]))
    kept = {name: (spreads.of(name, "nobody").mu - every) / (own[name] - every) for name in own}
    assert 0.3 < kept["RARE"] < 0.9 < kept["P2"] < 1


def test_that_the_variance_between_surgeons_is_that_of_all_procedures_together() -> None:
    """Two procedures: 3 degrees of freedom with 0.04 between, 1 with nothing (and less than chance): 0.03 - 0.0025."""
    many = Groups(mean=0, within=0.1, estimate=0.04, sizes=dict.fromkeys("ABCD", 9), means={})
    few = Groups(mean=0, within=0.1, estimate=-0.01, sizes=dict.fromkeys("AB", 9), means={})
    assert pooled_between([many, few]) == pytest.approx((3 * 0.04 - 0.01) / 4)
    assert pooled_between([few]) == 0
    assert pooled_between([]) == 0


def test_that_a_procedure_speaks_for_itself_from_its_tenth_case_on_and_the_site_from_its_thirtieth() -> None:
    """Nine cases of one procedure are too few, ten are enough; 29 in all are too few for the site."""
    for count, source in ((9, MinutesFrom.PUBLISHED), (10, MinutesFrom.PROCEDURE)):
        spreads = Spreads(past("KNEE", "A", some_ratios(count, 0.0, 0.3, 1)), PUBLISHED_SPREAD)
        assert spreads.of("KNEE", "new").source is source
    for count, source in ((29, MinutesFrom.PUBLISHED), (30, MinutesFrom.SITE)):
        spreads = Spreads(past("KNEE", "A", some_ratios(count, 0.0, 0.3, 1)), PUBLISHED_SPREAD)
        assert spreads.of("HIP", "new").source is source


def test_that_a_surgeon_speaks_from_the_fifth_case_on() -> None:
    for count, source in ((4, MinutesFrom.PROCEDURE), (5, MinutesFrom.SURGEON)):
        cases = [
            *past("KNEE", "A", some_ratios(count, 0.0, 0.3, 1)),
            *past("KNEE", "B", some_ratios(20, 0.2, 0.3, 2)),
        ]
        assert Spreads(cases, PUBLISHED_SPREAD).of("KNEE", "A").source is source


def test_that_a_procedure_is_drawn_to_all_by_the_doubt_about_its_mean() -> None:
    """Logs of mean 1 and variance 1 in 4 cases, all procedures at 0 with variance 1 between: weight 4 / (4 + 1) = 0.8.

    So the mean is 0.8, and the spread is the cases' own variance and 0.2 of that between procedures.
    """
    logs = [1 - sqrt(0.75), 1 + sqrt(0.75)] * 2
    drawn = shrunk(logs, Groups(mean=0.0, within=1.0, estimate=1.0, sizes={}, means={}))
    assert drawn.mu == pytest.approx(0.8)
    assert drawn.sigma == pytest.approx(sqrt(1.2))
