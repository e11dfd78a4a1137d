"""Judge the chances by the past: fit on the earlier cases, forecast the later ones, compare with what happened.

Each later case is asked whether it ends more than some minutes after its planned end; its forecast is made
as the chances of a plan are, by drawing its day. The Brier score is the mean square of forecast less outcome
(Brier, Monthly Weather Review 78 (1950) 1-3).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime

import numpy as np

from picklist.clock import minutes_between
from picklist.department.day import ChanceModel, make_day, make_ready_tables
from picklist.department.draw_day import DayDrawer
from picklist.department.propagate import Draws, propagate
from picklist.department.ready_table import Minutes
from picklist.grouping import grouped
from picklist.model.calibration import Calibration, ForecastBin, MarginScore, TimeOrder
from picklist.model.schedule import Case, PastCase
from picklist.model.site import Site
from picklist.wording.chances import interval

MARGINS = (0, 15, 30, 60)
EARLIER = 2 / 3
LEAST = 90  # past cases, so that 30 are forecast
EDGES = (0.0, 0.01, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.99, 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """What was forecast of one case for one margin, and whether it happened."""

    case: int
    margin: int
    chance: float
    happened: bool
    group: str = ""  # cases of one room and day are late together


def calibrate(site: Site, *, draws: int, seed: int) -> Calibration:
    """Judge the chances of a site by its past cases. The same seed gives the same figures."""
    past, order = in_order(site.past_cases)
    left_out = len(site.past_cases) - len(past)
    if len(past) < LEAST:
        return Calibration(
            order=order, fitted=len(past), judged=0, followed=0, left_out=left_out, needed=LEAST, draws=draws, seed=seed
        )
    earlier, later = split(past, site)
    forecasts = forecast_cases(replace(site, past_cases=earlier), later, draws=draws, seed=seed)
    base = {margin: base_rate(earlier, margin) for margin in MARGINS}
    return Calibration(
        order=order,
        fitted=len(earlier),
        judged=len(later),
        followed=sum(is_followed(one) for one in later),
        left_out=left_out,
        needed=LEAST,
        draws=draws,
        seed=seed,
        margins=tuple(_score([one for one in forecasts if one.margin == margin], base[margin]) for margin in MARGINS),
        bins=make_bins(forecasts),
        brier=brier_score([(one.chance, one.happened) for one in forecasts]),
        brier_base=brier_score([(base[one.margin], one.happened) for one in forecasts]),
    )


def in_order(past: Sequence[PastCase]) -> tuple[tuple[PastCase, ...], TimeOrder]:
    """Past cases in the order of time: those with a start by it where these are enough, else all as they are listed."""
    dated = [(one.planned_start, one.room, row) for row, one in enumerate(past) if one.planned_start is not None]
    if len(dated) < LEAST:
        return tuple(past), TimeOrder.ROW
    return tuple(past[row] for _, _, row in sorted(dated)), TimeOrder.START


def split(past: Sequence[PastCase], site: Site) -> tuple[tuple[PastCase, ...], tuple[PastCase, ...]]:
    """The earlier and the later cases; the cases of one day stay together."""
    place = round(len(past) * EARLIER)
    days = [_day_of(one, site) for one in past]
    while 0 < place < len(past) - 1 and days[place] is not None and days[place] == days[place - 1]:
        place -= 1
    return tuple(past[:place]), tuple(past[place:])


def _day_of(one: PastCase, site: Site) -> date | None:
    return site.settings.site_clock.day(one.planned_start) if one.planned_start else None


def is_followed(one: PastCase) -> bool:
    """Whether a past case is followed through its room: its room and both starts are known."""
    return bool(one.room) and one.planned_start is not None and one.actual_start is not None


def late_by(one: PastCase) -> int:
    """Minutes by which a past case ended after its planned end; without its starts, by which it took longer."""
    started = 0
    if is_followed(one) and one.planned_start is not None and one.actual_start is not None:
        started = minutes_between(one.planned_start, one.actual_start)
    return started + one.actual_minutes - one.planned_minutes


def forecast_cases(site: Site, later: Sequence[PastCase], *, draws: int, seed: int) -> list[Forecast]:
    """Forecasts for each later case and margin, from the past cases that ``site`` holds."""
    drawer = DayDrawer(site, datetime(1970, 1, 1, tzinfo=UTC), draws=draws, seed=seed)
    ends: dict[int, Minutes] = {}
    days: dict[date, list[int]] = defaultdict(list)
    for place, one in enumerate(later):
        if is_followed(one) and one.planned_start is not None:
            days[site.settings.site_clock.day(one.planned_start)].append(place)
        else:
            ends |= _ends(site, drawer, [(place, one)], followed=False)
    for places in days.values():
        ends |= _ends(site, drawer, [(place, later[place]) for place in places], followed=True)
    return [
        Forecast(
            case=place,
            margin=margin,
            chance=share_of(ends[place] > margin),
            happened=late_by(later[place]) > margin,
            group=group_of(later[place], place, site),
        )
        for place in range(len(later))
        for margin in MARGINS
    ]


def group_of(one: PastCase, place: int, site: Site) -> str:
    """The room and day of a case that is followed, else the case itself."""
    return f"{one.room} {_day_of(one, site)}" if is_followed(one) else str(place)


def share_of(hits: Iterable[bool] | Minutes) -> float:
    """The share of draws, with half a draw more on each side: what was never drawn is not forecast as impossible."""
    found = np.asarray(hits)
    return (float(np.count_nonzero(found)) + 0.5) / (len(found) + 1)


def _ends(site: Site, drawer: DayDrawer, past: Sequence[tuple[int, PastCase]], *, followed: bool) -> dict[int, Minutes]:
    """By how many minutes each case of a day ends after its planned end in each draw, by its place."""
    cases = [_as_case(site, place, one, drawer.now) for place, one in past]
    tables = make_ready_tables(site, [drawer.now])
    day = make_day(ChanceModel(site=site, cases=tuple(cases), assignments=(), reuses=(), now=drawer.now), tables)
    drawn = drawer.draw(day)
    if not followed:
        drawn = Draws.of_minutes(drawn.minutes)
    ends = propagate(day, drawn).ends
    return {int(case.number): ends[row] for row, case in enumerate(day.cases)}


def _as_case(site: Site, place: int, one: PastCase, now: datetime) -> Case:
    start = one.planned_start or now
    return Case(
        number=str(place),
        day=site.settings.site_clock.day(start),
        room=one.room,
        start=start,
        minutes=one.planned_minutes,
        surgeon=one.surgeon,
        procedures=(one.procedure,),
    )


def base_rate(earlier: Sequence[PastCase], margin: int) -> float:
    """The share of the earlier cases that ended later than that."""
    return share_of([late_by(one) > margin for one in earlier])


def brier_score(pairs: Sequence[tuple[float, bool]]) -> float:
    """The mean square of forecast less outcome (1 or 0): 0 is perfect, 0.25 is what always saying a half gets."""
    return sum((chance - happened) ** 2 for chance, happened in pairs) / len(pairs)


def _score(forecasts: Sequence[Forecast], base: float) -> MarginScore:
    return MarginScore(
        margin=forecasts[0].margin,
        cases=len(forecasts),
        happened=sum(one.happened for one in forecasts),
        forecast=sum(one.chance for one in forecasts) / len(forecasts),
        base=base,
        brier=brier_score([(one.chance, one.happened) for one in forecasts]),
        brier_base=brier_score([(base, one.happened) for one in forecasts]),
    )


def make_bins(forecasts: Sequence[Forecast]) -> tuple[ForecastBin, ...]:
    """The forecasts by tenths, the ends of nearly never and nearly always for themselves; empty bins are left out.

    The forecasts of one room and day are late together, so the doubt about a share is that of so many of these.
    """
    bins = grouped(
        (next(n for n, high in enumerate(EDGES[1:]) if one.chance < high or high == EDGES[-1]), one)
        for one in forecasts
    )
    return tuple(_bin(EDGES[place], EDGES[place + 1], bins[place]) for place in sorted(bins))


def _bin(low: float, high: float, forecasts: Sequence[Forecast]) -> ForecastBin:
    happened = sum(one.happened for one in forecasts)
    cases = len({one.case for one in forecasts})
    groups = len({one.group or str(one.case) for one in forecasts})
    lowest, highest = interval(happened / len(forecasts), groups)
    return ForecastBin(
        low=low,
        high=high,
        forecasts=len(forecasts),
        cases=cases,
        happened=happened,
        forecast=sum(one.chance for one in forecasts) / len(forecasts),
        lowest=lowest,
        highest=highest,
    )
