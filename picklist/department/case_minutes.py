"""How long cases take: lognormal, fitted from past cases, or a published spread without them.

What is fitted is the logarithm of actual over planned minutes, so that a case keeps its own plan.
Case minutes follow a lognormal closer than a normal (Strum, May, Vargas, Anesthesiology 92 (2000)
1160-67). A surgeon's mean is shrunk towards the procedure's, and a procedure's towards the site's, by the weight
``n / (n + within / between)`` of the one-way random-effects model (Bühlmann 1967, from memory),
its variances estimated by analysis of variance for groups of unequal size.

A fit on few cases is not sure of its own spread: draws follow the Student distribution with the fit's degrees of
freedom, the predictive one of a normal sample (Box and Tiao 1973, from memory), so that what was not seen in ten
cases is not drawn as impossible.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from math import log, sqrt

import numpy as np
from numpy.typing import NDArray

from picklist.clock import minutes_between
from picklist.department.ready_table import KEPT_AS, Minutes
from picklist.model.department import MinutesFrom
from picklist.model.schedule import Case, PastCase
from picklist.sets.case_uses import case_times
from picklist.settings import Settings

ENOUGH_FOR_A_PROCEDURE = 10
ENOUGH_FOR_A_SURGEON = 5
ENOUGH_FOR_A_SITE = 30
TRIES = 100  # for draws longer than a running case has taken already
PUBLISHED_SPREAD = 0.557  # SD over mean: Stavrou et al., ISRN Surgery 2014: 431740 (115 min, SD 64, n = 548)
LONGEST = 2880  # minutes; no case is drawn longer


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """Mean and deviation of ``log(actual / planned)``, and what they were taken from.

    ``freedom``: degrees of freedom with which the deviation was estimated; None where it is taken as known.
    """

    mu: float
    sigma: float
    source: MinutesFrom
    freedom: int | None = None


def spread_of_variation(variation: float) -> Spread:
    """A spread that is right on plan in the mean, from a coefficient of variation (SD over mean)."""
    variance = log(1 + variation**2)
    source = MinutesFrom.PUBLISHED if variation == PUBLISHED_SPREAD else MinutesFrom.SETTING
    return Spread(mu=-variance / 2, sigma=sqrt(variance), source=source)


def fit_lognormal(logs: Sequence[float]) -> tuple[float, float]:
    """Greatest-likelihood mean and deviation of the logarithms."""
    mean = sum(logs) / len(logs)
    return mean, sqrt(sum((x - mean) ** 2 for x in logs) / len(logs))


def predicted(logs: Sequence[float], source: MinutesFrom) -> Spread:
    """The spread of the next case after some that were seen, the mean's own doubt included."""
    mean, deviation = fit_lognormal(logs)
    count = len(logs)
    return Spread(mu=mean, sigma=deviation * sqrt((count + 1) / (count - 1)), source=source, freedom=count - 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Groups:
    """One-way random effects: grand mean, variance within and between groups, and each group's mean.

    ``estimate`` is the variance between as the analysis of variance gives it, below 0 where the groups' means differ
    less than chance alone would have it; ``between`` is then 0.
    """

    mean: float
    within: float
    estimate: float
    sizes: Mapping[str, int]
    means: Mapping[str, float]

    @property
    def between(self) -> float:
        """The variance between groups."""
        return max(0.0, self.estimate)


def credibility(size: int, within: float, between: float) -> float:
    """The weight of a group's own mean, from 0 to 1."""
    return size / (size + within / between) if size and between > 0 else 0.0


def fit_groups(logs: Mapping[str, Sequence[float]]) -> Groups:
    """Variance components by analysis of variance; ``between`` is 0 with one group or one value each."""
    count = sum(len(values) for values in logs.values())
    mean = sum(sum(values) for values in logs.values()) / count
    means = {name: sum(values) / len(values) for name, values in logs.items()}
    inside = sum((x - means[name]) ** 2 for name, values in logs.items() for x in values)
    if len(logs) < 2 or count <= len(logs):
        return Groups(
            mean=mean,
            within=sum((x - mean) ** 2 for v in logs.values() for x in v) / count,
            estimate=0.0,
            sizes={name: len(values) for name, values in logs.items()},
            means=means,
        )
    within = inside / (count - len(logs))
    outside = sum(len(values) * (means[name] - mean) ** 2 for name, values in logs.items()) / (len(logs) - 1)
    size = (count - sum(len(values) ** 2 for values in logs.values()) / count) / (len(logs) - 1)
    return Groups(
        mean=mean,
        within=within,
        estimate=(outside - within) / size,
        sizes={name: len(values) for name, values in logs.items()},
        means=means,
    )


def shrunk(logs: Sequence[float], across: Groups | None) -> Spread:
    """The spread of a procedure, its mean drawn to that of all procedures as far as its own cases leave it in doubt.

    A procedure that ran long in a dozen cases will mostly run less long in the next.
    """
    alone = predicted(logs, MinutesFrom.PROCEDURE)
    if across is None:
        return alone
    variance = alone.sigma**2 / (1 + 1 / len(logs))  # without the doubt about the mean
    weight = credibility(len(logs), variance, across.between)
    mu = across.mean + weight * (alone.mu - across.mean)
    return replace(alone, mu=mu, sigma=sqrt(variance + (1 - weight) * across.between))


def pooled_between(procedures: Iterable[Groups]) -> float:
    """The variance between surgeons of one procedure, from all procedures together: each alone has too few surgeons."""
    found = [(len(one.sizes) - 1, one.estimate) for one in procedures]
    freedom = sum(weight for weight, _ in found)
    return max(0.0, sum(weight * estimate for weight, estimate in found) / freedom) if freedom else 0.0


class Spreads:
    """The spread of each case's minutes, from the narrowest past that is large enough."""

    def __init__(self, past: Iterable[PastCase], fallback: float) -> None:
        """``fallback`` is the coefficient of variation used where too little is past."""
        self._fallback = spread_of_variation(fallback)
        logs: dict[str, dict[str, list[float]]] = defaultdict(lambda: defaultdict(list))
        for one in past:
            logs[one.procedure][one.surgeon].append(log(one.actual_minutes / one.planned_minutes))
        everything = [x for surgeons in logs.values() for values in surgeons.values() for x in values]
        enough = len(everything) >= ENOUGH_FOR_A_SITE
        self._site = predicted(everything, MinutesFrom.SITE) if enough else self._fallback
        whole = {name: [x for values in surgeons.values() for x in values] for name, surgeons in logs.items()}
        known = [name for name, values in whole.items() if len(values) >= ENOUGH_FOR_A_PROCEDURE]
        across = fit_groups(whole) if enough and len(whole) > 1 else None
        self._whole = {name: shrunk(whole[name], across) for name in known}
        self._procedures = {name: fit_groups(logs[name]) for name in known}
        self._between_surgeons = pooled_between(self._procedures.values())

    def of(self, procedure: str, surgeon: str) -> Spread:
        """Surgeon shrunk towards procedure, else procedure, else all past cases, else the fallback."""
        groups = self._procedures.get(procedure)
        if groups is None:
            return self._site
        if groups.sizes.get(surgeon, 0) < ENOUGH_FOR_A_SURGEON:
            return self._whole[procedure]
        weight = credibility(groups.sizes[surgeon], groups.within, self._between_surgeons)
        towards = self._whole[procedure].mu
        return Spread(
            mu=towards + weight * (groups.means[surgeon] - towards),
            sigma=sqrt(groups.within + (1 - weight) * self._between_surgeons),
            source=MinutesFrom.SURGEON,
            freedom=max(1, sum(groups.sizes.values()) - len(groups.sizes)),
        )

    def of_case(self, case: Case) -> Spread:
        """By the case's main procedure."""
        return self.of(case.procedures[0] if case.procedures else "", case.surgeon)


def draw_minutes(case: Case, spreads: Spreads, settings: Settings, now: datetime, *, draws: int, seed: int) -> Minutes:
    """Whole minutes of a case in each draw, shape (draws,).

    Each case has its own stream of random numbers from the seed and its number, so that another
    case more or less does not change its draws. A running case takes longer than it has by now.
    """
    stream = np.random.default_rng([seed, *case.number.encode()])
    least = max(1, minutes_between(case_times(settings, case).starts, now)) if case.is_running else 1
    return _draw_case(case, spreads.of_case(case), stream, (least, draws))


def _draw_case(case: Case, spread: Spread, stream: np.random.Generator, least_and_draws: tuple[int, int]) -> Minutes:
    """Draws of one case that are no shorter than ``least``; past all likelihood, ``least`` itself."""
    least, draws = least_and_draws
    found = np.zeros(draws, dtype=KEPT_AS)
    for _ in range(TRIES if least > 1 else 1):
        logs = spread.mu + spread.sigma * _standard(spread, stream, draws)
        fresh = np.rint(np.minimum(LONGEST, case.minutes * np.exp(np.minimum(logs, log(LONGEST)))))
        found = np.where(found < least, fresh.astype(KEPT_AS), found)
        if found.min() >= least:
            break
    return np.maximum(found, least)


def _standard(spread: Spread, stream: np.random.Generator, draws: int) -> NDArray[np.float64]:
    """Draws of mean 0: normal, or with the Student distribution's longer tails where the spread was estimated."""
    normal = stream.standard_normal(draws)
    if spread.freedom is None:
        return normal
    return normal / np.sqrt(stream.chisquare(spread.freedom, draws) / spread.freedom)
