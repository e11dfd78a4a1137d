"""The judgement of risk figures in words: too few, all well, and what is off."""

from __future__ import annotations

from dataclasses import replace

from picklist.model.calibration import Calibration, ForecastBin, MarginScore, TimeOrder
from picklist.wording.say_calibration import bin_rows, calibration_lines, calibration_table


def a_bin(low: float, high: float, forecast: float, happened: int, cases: int = 100) -> ForecastBin:
    share = happened / cases
    return ForecastBin(
        low=low,
        high=high,
        forecasts=cases,
        cases=cases,
        happened=happened,
        forecast=forecast,
        lowest=max(0.0, share - 0.08),
        highest=share + 0.08,
    )


SCORE = MarginScore(margin=0, cases=100, happened=70, forecast=0.68, base=0.7, brier=0.17, brier_base=0.2)
FOUND = Calibration(
    order=TimeOrder.START,
    fitted=200,
    judged=100,
    followed=90,
    left_out=1,
    needed=90,
    draws=2000,
    seed=1,
    margins=(SCORE, replace(SCORE, margin=15, happened=40)),
    bins=(a_bin(0.0, 0.01, 0.004, 0, cases=4), a_bin(0.1, 0.2, 0.15, 17), a_bin(0.2, 0.3, 0.25, 60)),
    brier=0.17,
    brier_base=0.2,
)


def test_that_what_is_off_is_named_with_the_chance_of_one_row_in_twenty() -> None:
    lines = calibration_lines(FOUND)
    assert lines[0] == (
        "Of 2 rows with enough cases to tell, 1 did not come true as forecast: what was forecast with 20 to 30 % "
        "happened more often. One row in twenty does so by chance alone."
    )
    assert "15 % better than always naming the share of the earlier cases" in lines[1]
    assert lines[2].startswith("Ends late at all: forecast 68 % on average, happened in 70 of 100 (70 %)")
    assert "Without a room or an actual start, 10 later cases are judged by their minutes alone." in lines
    assert "Left out, as they have no planned start: 1 past case." in lines


def test_that_worse_than_the_base_rate_is_said() -> None:
    assert "18 % worse than always naming" in calibration_lines(replace(FOUND, brier=0.236))[1]
    assert "no better than always naming" in calibration_lines(replace(FOUND, brier=0.2))[1]


def test_that_a_row_says_how_far_it_can_be_trusted() -> None:
    rows = bin_rows(FOUND)
    assert rows[0] == ("under 1 %", "4", "0.4 %", "0", "0.0 %", "0 % to 8 %", "too few to tell")
    assert rows[2][-1] == "more often than forecast"
    assert len(calibration_table(FOUND)) == len(rows) + 3


def test_that_too_few_is_said_plainly_and_nothing_else() -> None:
    few = replace(FOUND, fitted=35, judged=0, bins=(), margins=())
    assert calibration_lines(few)[0] == (
        "Too few past cases to judge the risk figures by: 35 can be used, 90 are needed."
    )
    assert calibration_table(few) == ()
