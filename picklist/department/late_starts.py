"""How late cases start, and how late sets that are still to be brought arrive: from the past, else an assumption.

A start is late or it is not; the minutes of the late ones are lognormal. Where too few past cases say when they
started, the first case of a room is late as published: 55 % of 3,604 first cases, the late ones by 12 minutes in
the middle, the middle half by 6 to 24 (Am J Surg 219 (2020) 486-489). No published figure was found for later
cases of a room, over what the room costs them, nor for sets that are away or on loan. For both a figure is
assumed, and every paper says so.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import exp, log, sqrt

import numpy as np

from picklist.clock import SiteClock, minutes_between, shift
from picklist.department.ready_table import KEPT_AS, Minutes
from picklist.grouping import grouped
from picklist.model.department import Lateness, LatenessFrom
from picklist.model.schedule import Case, PastCase

ENOUGH_STARTS = 30
ENOUGH_LATE = 10
QUARTILE = 0.6745  # of the standard normal
PUBLISHED_FIRST = Lateness(
    share=0.55, median=12.0, sigma=log(24 / 6) / (2 * QUARTILE), source=LatenessFrom.PUBLISHED, cases=0
)
ASSUMED_NEXT = Lateness(share=0.25, median=10.0, sigma=1.0, source=LatenessFrom.ASSUMED, cases=0)
ASSUMED_ARRIVAL = Lateness(share=0.25, median=60.0, sigma=1.0, source=LatenessFrom.ASSUMED, cases=0)
FIRST, NEXT, ARRIVAL = 1_000, 1_001, 1_002  # before the name of a stream; no letter has such a number


@dataclass(frozen=True, slots=True, kw_only=True)
class PastStarts:
    """Minutes by which past cases started after their time, 0 when in time: the first of a room, and the later ones."""

    first: tuple[int, ...]
    later: tuple[int, ...]


def past_starts(past: Iterable[PastCase], clock: SiteClock, turnover: int) -> PastStarts:
    """The late starts of the past cases that say when they were planned and when they started.

    A later case of a room and day could start when planned, or when the case before it had left and the room was
    turned over; what it started after that is its own. A case without a room counts as neither.
    """
    rooms = grouped(
        ((one.room, clock.day(one.planned_start)), one)
        for one in past
        if one.planned_start is not None and one.actual_start is not None and one.room
    )
    first: list[int] = []
    later: list[int] = []
    for cases in rooms.values():
        cases.sort(key=lambda one: (one.actual_start or one.planned_start, one.planned_start))
        for place, one in enumerate(cases):
            if one.planned_start is None or one.actual_start is None:
                continue
            may_start = one.planned_start
            before = cases[place - 1] if place else None
            if before is not None and before.actual_start is not None:
                may_start = max(may_start, shift(before.actual_start, before.actual_minutes + turnover))
            late = max(0, minutes_between(may_start, one.actual_start))
            (first if before is None else later).append(late)
    return PastStarts(first=tuple(first), later=tuple(later))


def fit_lateness(minutes: Sequence[int], otherwise: Lateness) -> Lateness:
    """The share that was late, and the lognormal of the late ones' minutes; ``otherwise`` with too few to say.

    Where many started and few of them late, only the minutes are those of ``otherwise``.
    """
    if len(minutes) < ENOUGH_STARTS:
        return otherwise
    logs = [log(one) for one in minutes if one > 0]
    # One late start more and one start in time more: what never happened so far is not impossible.
    share = (len(logs) + 1) / (len(minutes) + 2)
    if len(logs) < ENOUGH_LATE:
        return replace(otherwise, share=share, source=LatenessFrom.PAST, cases=len(minutes))
    mean = sum(logs) / len(logs)
    deviation = sqrt(sum((one - mean) ** 2 for one in logs) / (len(logs) - 1))
    return Lateness(share=share, median=exp(mean), sigma=deviation, source=LatenessFrom.PAST, cases=len(minutes))


class LateStarts:
    """How late the first case of a room, a later one, and a set to be brought come."""

    def __init__(self, past: Iterable[PastCase], clock: SiteClock, turnover: int) -> None:
        found = past_starts(past, clock, turnover)
        self.first = fit_lateness(found.first, PUBLISHED_FIRST)
        self.later = fit_lateness(found.later, ASSUMED_NEXT)
        self.arrival = ASSUMED_ARRIVAL

    def of_case(self, *, is_first: bool) -> Lateness:
        """Of the first case of a room and day, or of a later one."""
        return self.first if is_first else self.later


def draw_start(case: Case, lateness: Lateness, *, is_first: bool, draws: int, seed: int) -> Minutes:
    """By how many minutes a case starts late of itself in each draw; one that runs has started.

    Each case has a stream of its own, so that its draws are the same whatever else changes.
    """
    if case.is_running:
        return np.zeros(draws, dtype=KEPT_AS)
    stream = np.random.default_rng([seed, FIRST if is_first else NEXT, *case.number.encode()])
    return draw_lateness(lateness, stream, draws)


def draw_arrivals(set_id: str, lateness: Lateness, *, draws: int, seed: int) -> Minutes:
    """By how many minutes a set that is to be brought comes late in each draw."""
    return draw_lateness(lateness, np.random.default_rng([seed, ARRIVAL, *set_id.encode()]), draws)


def draw_lateness(lateness: Lateness, stream: np.random.Generator, draws: int) -> Minutes:
    """Whole minutes, 0 for what is in time."""
    is_late = stream.random(draws) < lateness.share
    minutes = np.rint(lateness.median * np.exp(lateness.sigma * stream.standard_normal(draws)))
    return np.where(is_late, minutes, 0).astype(KEPT_AS)
