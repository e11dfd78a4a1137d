"""Chances in words: how often a set is late, even when hurried, and what the simulated days were made from."""

from __future__ import annotations

from collections.abc import Mapping
from math import ceil, floor, sqrt

from picklist.model.department import ChanceReport, DrawnFrom, Lateness, LatenessFrom, MinutesFrom
from picklist.model.uses import Pace
from picklist.wording.quantities import at_pace, counted, listed, per_cent, span

SURE = 1.96  # normal quantile: what is said of a share holds at 95 %
MINUTES_FROM: Mapping[MinutesFrom, str] = {
    MinutesFrom.SURGEON: "past cases of the same surgeon and procedure",
    MinutesFrom.PROCEDURE: "past cases of the same procedure",
    MinutesFrom.SITE: "all past cases",
}
PUBLISHED_MINUTES = "as published by Stavrou et al., ISRN Surgery 2014: 431740"
PUBLISHED_STARTS = "as published of 3,604 first cases, Am J Surg 219 (2020) 486-489"


def interval(share: float, tries: int) -> tuple[float, float]:
    """Between which shares the true one lies, at 95 %, of one that was seen (Wilson, J Am Stat Assoc 22 (1927) 209-12).

    Never a bare 0 or 1, however seldom something happened. Everything is possible without a try.
    """
    if not tries:
        return 0.0, 1.0
    middle = (share + SURE**2 / (2 * tries)) / (1 + SURE**2 / tries)
    half = SURE / (1 + SURE**2 / tries) * sqrt(share * (1 - share) / tries + SURE**2 / (4 * tries**2))
    return max(0.0, middle - half), min(1.0, middle + half)


def late_share(share: float, draws: int) -> str:
    """A share of simulated days in whole per cent; never 0 or 100, and no nearer to them than so many days can tell.

    ``under 1 %`` of 2,000 days without a late one, but ``under 4 %`` of 100.
    """
    low, high = interval(share, draws)
    if share == 0 or high < 0.01:
        return f"under {max(1, ceil(100 * high))} %"
    if share == 1 or low > 0.99:
        return f"over {min(99, floor(100 * low))} %"
    return f"{min(99, max(1, round(100 * share)))} %"


def late_in(
    draws: int, fails: float, fails_hurried: float | None, pace: Pace | None, *, if_opened: bool = False
) -> str:
    """How often a set is late: ``late in 55 % of simulated days at usual pace, in 23 % even when hurried``.

    The second figure stands only where it differs from the first. Of a set that is on hold the days count
    what happens when it is opened.
    """
    usual, hurried = late_share(fails, draws), "" if fails_hurried is None else late_share(fails_hurried, draws)
    text = at_pace(f"late in {usual} of simulated days", pace) + (" if it is opened" if if_opened else "")
    return text + (f", in {hurried} even when hurried" if hurried not in ("", usual) else "")


def chance_then(draws: int, fails: float, fails_hurried: float | None) -> str:
    """What chance a change leaves: ``then late in 12 % of simulated days, in 3 % even when hurried``."""
    return f"then {late_in(draws, fails, fails_hurried, None)}"


def what_is_drawn(report: ChanceReport) -> tuple[str, ...]:
    """What a simulated day is, what its figures mean and where they come from; each line a sentence or two."""
    how = (
        f"The days of the plan were played through {report.draws:,} times (seed {report.seed}). Each time the cases "
        "start late and take as long as is drawn for them, a late case pushes the next one in its room, and its sets "
        "come back late. A set is late when it is not ready by the time its cart must be complete, for the start "
        "that the room still allows."
    )
    paces = (
        "The first figure takes the pace that this plan gives for the set: usual pace, or today's queue where that "
        "is later. Hurried: this set alone is done in the least minutes at every step."
    )
    return (how, paces, *(_sources(report.drawn_from) if report.drawn_from else ()))


def _sources(drawn: DrawnFrom) -> tuple[str, ...]:
    lines = [
        f"Case minutes: {listed(_minutes_from(drawn, source, count) for source, count in drawn.minutes)}.",
        f"First case of a room: {_lateness(drawn.first)}.",
        f"Later cases of a room, beyond what the case before costs them: {_lateness(drawn.later)}.",
    ]
    if drawn.arrivals:
        lines.append(f"Sets that are away or on loan: {_lateness(drawn.arrivals)}.")
    return tuple(lines)


def _minutes_from(drawn: DrawnFrom, source: MinutesFrom, count: int) -> str:
    cases = counted(count, "case")
    if source in MINUTES_FROM:
        return f"{cases} by {MINUTES_FROM[source]}"
    told = PUBLISHED_MINUTES if source is MinutesFrom.PUBLISHED else "the setting 'overrun spread'"
    return f"{cases} with a spread of {per_cent(drawn.variation)} of the mean (no past cases: assumed, {told})"


def _lateness(one: Lateness) -> str:
    late = f"late in {per_cent(one.share)}, half of these by more than {span(one.median)}"
    if one.source is LatenessFrom.PAST:
        return f"{late} (from {counted(one.cases, 'past start')})"
    if one.source is LatenessFrom.PUBLISHED:
        return f"{late} (no past cases to tell: assumed, {PUBLISHED_STARTS})"
    return f"{late} (assumed; there is no published figure)"
