"""Chances in words: no nearer to never and always than so many simulated days can tell."""

from __future__ import annotations

import pytest

from picklist.model.uses import Pace
from picklist.wording.chances import interval, late_in, late_share


@pytest.mark.parametrize(
    ("hits", "tries", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_that_the_interval_is_wilsons(hits: int, tries: int, low: float, high: float) -> None:
    """Newcombe, Stat Med 17 (1998) 857-872, table I, score method without continuity correction (from memory)."""
    assert interval(hits / tries, tries) == pytest.approx((low, high), abs=1e-4)


@pytest.mark.parametrize(
    ("share", "draws", "text"),
    [
        (0.0, 2000, "under 1 %"),
        (0.0, 100, "under 4 %"),
        (0.0, 20, "under 17 %"),
        (0.002, 2000, "under 1 %"),
        (0.008, 2000, "1 %"),
        (0.578, 2000, "58 %"),
        (0.995, 1000, "99 %"),
        (1.0, 2000, "over 99 %"),
        (1.0, 20, "over 83 %"),
    ],
)
def test_that_no_chance_reads_as_never_or_always(share: float, draws: int, text: str) -> None:
    assert late_share(share, draws) == text


def test_that_a_second_figure_stands_only_where_a_rush_saves_something() -> None:
    assert late_in(2000, 0.55, 0.23, Pace.USUAL) == (
        "late in 55 % of simulated days at usual pace, in 23 % even when hurried"
    )
    assert late_in(2000, 0.55, 0.552, Pace.QUEUE) == "late in 55 % of simulated days in today's queue"
    assert late_in(2000, 0.5, None, Pace.USUAL, if_opened=True) == (
        "late in 50 % of simulated days at usual pace if it is opened"
    )
