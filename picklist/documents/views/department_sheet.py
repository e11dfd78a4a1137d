"""The department's sheet: each reuse in order of deadline, and what each station must have started by when."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from picklist import wording
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.reuse_blocks import LaterRow, ReuseBlock, later_row, reuse_block, target
from picklist.documents.views.set_days import SetDays, set_days
from picklist.documents.views.stamp import PageFoot, printing_of, settings_lines, stamp_for
from picklist.documents.views.station_load import (
    LoadPlot,
    RunRow,
    in_time,
    load_plots,
    run_row,
    runs_to_watch,
)
from picklist.documents.views.tray_rows import at_one_moment
from picklist.letters import natural_key
from picklist.model.plan import RemedySearch
from picklist.model.uses import Deadline, Reuse
from picklist.wording.say_remedies import NO_RISKS_YET

NO_STATION = "Rooms, cooling and carts"


@dataclass(frozen=True, slots=True, kw_only=True)
class StationLine:
    """One act on one set at a station; ``past`` when its time was over at printing."""

    latest: str
    act: str
    set_id: str
    tray: str
    source: str
    target: str
    last_resort: str
    past: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class StationGroup:
    """What one station must start on one day, in order of deadline; the title names a day other than the sheet's."""

    title: str
    day: str
    rows: tuple[StationLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LaterGroup:
    """Sets for later days whose first deadline falls on one day."""

    title: str
    rows: tuple[LaterRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DepartmentView:
    """The whole sheet; runs and plots stand only where the department was run forwards.

    ``reuses`` and ``stations`` are for the carts of the day and whatever is tight; ``later`` are
    the sets that the day gives back for later days.
    """

    stamp: PageFoot
    title: str
    counts: str
    reuses: tuple[ReuseBlock, ...]
    later: tuple[LaterGroup, ...]
    stations: tuple[StationGroup, ...]
    runs: tuple[RunRow, ...]
    in_time: str
    set_days: SetDays
    plots: tuple[LoadPlot, ...]
    helps: tuple[str, ...]
    chance: str
    settings: tuple[tuple[str, str], ...]


def department_sheet(found: Lookup) -> DepartmentView:
    """All reuses that give to or take from a case of the day."""
    reuses = sorted((one for one in found.plan.reuses if _concerns_the_day(found, one)), key=_first_deadline)
    now = [one for one in reuses if _is_for_the_day(found, one)]
    later = [one for one in reuses if one not in now]
    run, chance = found.plan.department, found.plan.chance
    return DepartmentView(
        stamp=stamp_for(found.plan, printing_of(found.plan), found.clock),
        title=f"Sets to turn around, {found.clock.day_text(found.day)}",
        counts=f"{wording.counted(len(now), 'set')} for carts of this day, {len(later)} for later days"
        + (f". {NO_RISKS_YET}" if found.plan.search is RemedySearch.GOING_ON else ""),
        reuses=tuple(reuse_block(found, one) for one in now),
        later=_later(found, later),
        stations=_stations(found, now),
        runs=tuple(run_row(found, one) for one in runs_to_watch(found)),
        in_time=in_time(found),
        set_days=set_days(found, runs_to_watch(found)),
        plots=load_plots(found, run) if run else (),
        helps=tuple(f"{one.text}: avoids {wording.per_cent(one.share_saved)} of the delays" for one in chance.helps)
        if chance
        else (),
        chance=f"In {chance.draws:,} simulated days, which the conflict sheet explains." if chance else "",
        settings=settings_lines(found.plan.settings),
    )


def _concerns_the_day(found: Lookup, reuse: Reuse) -> bool:
    days = [found.cases[case].day for case in (reuse.giver, reuse.waiter) if case in found.cases]
    return found.day in days or not days


def _is_for_the_day(found: Lookup, reuse: Reuse) -> bool:
    waiter = found.cases.get(reuse.waiter)
    return waiter is None or waiter.day <= found.day or reuse.slack < found.plan.settings.margin


def _first_deadline(reuse: Reuse) -> tuple[datetime, object]:
    first = min((one.latest for one in reuse.deadlines), default=reuse.needed)
    return (first, natural_key(reuse.set_id))


def _stations(found: Lookup, reuses: list[Reuse]) -> tuple[StationGroup, ...]:
    acts = [(acts, deadline, reuse) for reuse in reuses for acts, deadline in _of_stations(reuse)]
    acts.sort(key=lambda act: (act[1].latest, natural_key(act[2].set_id)))
    order = list(dict.fromkeys(deadline.station for _, deadline, _ in acts))
    acts.sort(key=lambda act: order.index(act[1].station))
    groups: dict[tuple[str, str], list[StationLine]] = {}
    for name, deadline, reuse in acts:
        key = (deadline.station or NO_STATION, found.other_day(deadline.latest))
        groups.setdefault(key, []).append(_act(found, name, deadline, reuse))
    return tuple(
        StationGroup(title=f"{station}, {day}" if day else station, day=day, rows=tuple(rows))
        for (station, day), rows in groups.items()
    )


def _later(found: Lookup, reuses: list[Reuse]) -> tuple[LaterGroup, ...]:
    groups: dict[str, list[LaterRow]] = {}
    for reuse in reuses:
        day = wording.short_day(found.clock.day(_first_deadline(reuse)[0]))
        groups.setdefault(day, []).append(later_row(found, reuse))
    return tuple(LaterGroup(title=day, rows=tuple(rows)) for day, rows in groups.items())


def _of_stations(reuse: Reuse) -> list[tuple[str, Deadline]]:
    """Acts by station, so that two of one moment at two stations stand with each of them."""
    stations = dict.fromkeys(one.station for one in reuse.deadlines)
    return [
        pair
        for station in stations
        for pair in at_one_moment(tuple(one for one in reuse.deadlines if one.station == station))
    ]


def _act(found: Lookup, name: str, deadline: Deadline, reuse: Reuse) -> StationLine:
    return StationLine(
        latest=found.clock.hhmm(deadline.latest),
        act=name,
        set_id=reuse.set_id,
        tray=found.tray(reuse.tray),
        source=f"from {found.case_in_room(reuse.giver)}" if reuse.giver else "",
        target=target(found, reuse),
        last_resort=found.when(deadline.last_resort),
        past=deadline.latest < found.plan.now,
    )
