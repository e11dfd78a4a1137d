"""The department's sheet: each reuse in order of deadline, and what each station must have started by when."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime

from picklist import wording
from picklist.documents.views.finished_words import Group, View
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.reuse_blocks import LaterRow, ReuseBlock, target
from picklist.documents.views.stamp import settings_lines, stamp_for
from picklist.documents.views.station_load import RunRow, SetDays, in_time, load_plots, runs_to_watch
from picklist.documents.views.tray_rows import at_one_moment, take_first
from picklist.grouping import grouped
from picklist.letters import natural_key
from picklist.model.uses import Deadline, Reuse
from picklist.wording.say_remedies import NO_RISKS_YET, while_sought

NO_STATION = "Rooms, cooling and carts"


class StationLine(View):
    """One act on one set at a station; ``past`` when its time was over at printing."""

    def __init__(self, found: Lookup, name: str, deadline: Deadline, reuse: Reuse) -> None:
        self.latest = found.clock.hhmm(deadline.latest)
        self.act = name
        self.set_id = reuse.set_id
        self.tray = found.tray(reuse.tray)
        self.source = f"from {found.case_in_room(reuse.giver)}" if reuse.giver else ""
        self.target = target(found, reuse)
        self.last_resort = found.when(deadline.last_resort)
        self.past = deadline.latest < found.plan.now


class StationGroup(Group[StationLine]):
    """What one station must start on one day, in order of deadline; ``day``: where it is not the sheet's."""

    def __init__(self, station: str, day: str, rows: Iterable[StationLine]) -> None:
        super().__init__(f"{station}, {day}" if day else station, rows)
        self.day = day


class DepartmentView(View):
    """The whole sheet; runs and plots stand only where the department was run forwards.

    ``reuses`` and ``stations`` are for the carts of the day and whatever is tight; ``later`` are
    the sets that the day gives back for later days. ``awaited``: sets for which a case waits that goes without.
    """

    def __init__(self, found: Lookup) -> None:
        reuses = sorted((one for one in found.plan.reuses if _concerns_the_day(found, one)), key=_first_deadline)
        now = [one for one in reuses if _is_for_the_day(found, one)]
        later = [one for one in reuses if one not in now]
        no_risks = while_sought(found.plan.search, f". {NO_RISKS_YET}")
        run, chance = found.plan.department, found.plan.chance
        self.stamp = stamp_for(found.plan)
        self.title = f"Sets to turn around, {found.clock.day_text(found.day)}"
        self.counts = f"{wording.counted(len(now), 'set')} for carts of this day, {len(later)} for later days{no_risks}"
        self.reuses = tuple(ReuseBlock(found, one) for one in now)
        self.awaited = tuple(_awaited(found))
        self.later = _later(found, later)
        self.stations = _stations(found, now)
        self.runs = tuple(RunRow(found, one) for one in runs_to_watch(found))
        self.in_time = in_time(found)
        self.set_days = SetDays(found, runs_to_watch(found))
        self.plots = load_plots(found, run) if run else ()
        self.helps = tuple(
            f"{one.text}: avoids {wording.per_cent(one.share_saved)} of the delays"
            for one in (chance.helps if chance else ())
        )
        self.chance = f"In {chance.draws:,} simulated days, which the conflict sheet explains." if chance else ""
        self.settings = settings_lines(found.plan.settings)


def _awaited(found: Lookup) -> Iterator[str]:
    for one in found.plan.conflicts:
        if one.awaited and found.day in {found.cases[case].day for case in one.cases if case in found.cases}:
            giver = f" from {found.case_in_room(one.awaited.case)}" if one.awaited.case else ""
            yield f"{one.set_id} {found.tray(one.tray)}{giver} {take_first(found, one.waiter)}"


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
    groups = grouped(
        (
            (deadline.station or NO_STATION, found.other_day(deadline.latest)),
            StationLine(found, name, deadline, reuse),
        )
        for name, deadline, reuse in acts
    )
    return tuple(StationGroup(station, day, rows) for (station, day), rows in groups.items())


def _later(found: Lookup, reuses: list[Reuse]) -> tuple[Group[LaterRow], ...]:
    """Sets for later days, by the day on which their first deadline falls."""
    days = grouped((found.clock.day(_first_deadline(one)[0]), LaterRow(found, one)) for one in reuses)
    return tuple(Group(wording.short_day(day), rows) for day, rows in days.items())


def _of_stations(reuse: Reuse) -> list[tuple[str, Deadline]]:
    """Acts by station, so that two of one moment at two stations stand with each of them."""
    stations = dict.fromkeys(one.station for one in reuse.deadlines)
    return [
        pair
        for station in stations
        for pair in at_one_moment(tuple(one for one in reuse.deadlines if one.station == station))
    ]
