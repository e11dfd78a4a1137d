"""How well chances came true: forecasts of past cases against what happened."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

ENOUGH_CASES = 10


class TimeOrder(StrEnum):
    """By what past cases were put in the order of time."""

    START = "start"
    ROW = "row"


class Agreement(StrEnum):
    """Whether what happened agrees with what was forecast, as far as so few cases can tell."""

    AS_FORECAST = "as forecast"
    MORE_OFTEN = "more often"
    LESS_OFTEN = "less often"
    TOO_FEW = "too few to tell"


@dataclass(frozen=True, slots=True, kw_only=True)
class ForecastBin:
    """The forecasts from ``low`` to below ``high``: how many, of how many cases, and how many came true.

    ``forecast`` is their mean, 0 to 1; ``lowest`` and ``highest``: between which shares the true one lies at 95 %
    by what happened.
    """

    low: float
    high: float
    forecasts: int
    cases: int
    happened: int
    forecast: float
    lowest: float
    highest: float

    @property
    def share(self) -> float:
        """The share that came true."""
        return self.happened / self.forecasts if self.forecasts else 0.0

    @property
    def agreement(self) -> Agreement:
        """Whether it happened as often as forecast; a single outcome among a few cases says nothing."""
        if self.cases < ENOUGH_CASES:
            return Agreement.TOO_FEW
        if self.forecast < self.lowest:
            return Agreement.MORE_OFTEN
        return Agreement.LESS_OFTEN if self.forecast > self.highest else Agreement.AS_FORECAST


@dataclass(frozen=True, slots=True, kw_only=True)
class MarginScore:
    """One question, whether a case ends more than ``margin`` minutes late: asked of ``cases``, true of ``happened``.

    ``forecast`` is the mean forecast; ``base`` the share of the earlier cases, which the Brier score ``brier_base``
    is of.
    """

    margin: int
    cases: int
    happened: int
    forecast: float
    base: float
    brier: float
    brier_base: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """Forecasts from the earlier past cases of the later ones, and what happened.

    ``fitted`` earlier cases and ``judged`` later ones, of which ``followed`` were followed through the rooms of their
    day (the others only by their minutes); ``left_out`` have no start while others do. ``needed``: fewer than
    that are too few, and then nothing is judged. The Brier scores are over all forecasts: the mean square of
    forecast less outcome, 0 at best; ``brier_base``: of always naming the share of the earlier cases.
    """

    order: TimeOrder
    fitted: int
    judged: int
    followed: int
    left_out: int
    needed: int
    draws: int
    seed: int
    margins: tuple[MarginScore, ...] = ()
    bins: tuple[ForecastBin, ...] = ()
    brier: float = 0.0
    brier_base: float = 0.0

    @property
    def too_few(self) -> bool:
        """Whether there are too few past cases to judge by."""
        return not self.judged

    @property
    def forecasts(self) -> int:
        """How many forecasts were judged."""
        return sum(one.forecasts for one in self.bins)

    @property
    def skill(self) -> float:
        """By which share the Brier score is better than that of the base rate; negative when worse."""
        return 1 - self.brier / self.brier_base if self.brier_base else 0.0
