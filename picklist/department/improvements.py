"""Rank what would help most: purchases and changes, each simulated with the same draws, by late carts saved."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta

import numpy as np
from numpy.typing import NDArray

from picklist.department.best_run import SameRun
from picklist.department.day import ChanceModel, Day, ReuseLink, make_day, with_queue
from picklist.department.propagate import DrawnDays, Draws, MinutesNow, late_after_change
from picklist.department.queue_conflicts import with_one_more
from picklist.department.ready_table import Minutes
from picklist.grouping import grouped
from picklist.model.department import DepartmentRun, Help
from picklist.model.routes import WorkPeriod
from picklist.wording.queues import collected_sooner, longer_hours, one_more_at, one_more_set

MOST_TRAYS = 8
SPLITS_PER_TRAY = 2
MOST_SHOWN = 10
LEAST_SHARE = 0.01  # of the late carts: less is not worth a line
SOONER = 10
HOUR = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class _Change:
    text: str  # empty of what is only a bound and never proposed
    day: Day
    hours_of: frozenset[str] = frozenset()  # stations with other hours


def rank_improvements(
    model: ChanceModel, run: DepartmentRun | None, day: Day, draws: Draws, drawn: DrawnDays
) -> tuple[Help, ...]:
    """Changes that save late carts, best first; equal ones by their text.

    A cart is late in a draw when at least one of its sets is not there in time. A use without a
    set makes its cart late in every draw.
    """
    return _Improvements(model, run, day, draws, drawn).ranked()


def late_draws(
    day: Day, draws: Draws, late: Minutes | MinutesNow, cases: Collection[int] | None = None
) -> dict[int, int]:
    """In how many draws each cart is late, by its case's place; only of ``cases``, where they are given.

    ``late``: the minutes that each link is late in each draw.
    """
    found: dict[int, NDArray[np.bool_]] = {}
    for place, link in enumerate(day.links):
        if (cases is None or link.waiter in cases) and late[place].any():
            now, before = late[place] > 0, found.get(link.waiter)
            found[link.waiter] = now if before is None else before | now
    counts = {case: int(np.count_nonzero(one)) for case, one in found.items()}
    return counts | {case: draws.count for case, _ in day.unserved if cases is None or case in cases}


class _Improvements:
    """A day with its draws, on which changes are tried."""

    def __init__(self, model: ChanceModel, run: DepartmentRun | None, day: Day, draws: Draws, drawn: DrawnDays) -> None:
        self.model, self.run, self.day, self.draws, self.drawn = model, run, day, draws, drawn
        self.late_carts = late_draws(day, draws, drawn.late)
        self.late = sum(self.late_carts.values())
        failing = np.flatnonzero(drawn.late.any(axis=1)).tolist()
        steps = {step for place in failing for step in day.links[place].steps}
        self.concerned = frozenset(step.station for step in steps if step.station)

    def ranked(self) -> tuple[Help, ...]:
        if not self.late:
            return ()
        saved: dict[str, int] = {}
        for change in self._changes():
            saved[change.text] = max(saved.get(change.text, 0), self._saves(change))
        ranked = sorted((-count, text) for text, count in saved.items() if self._is_worth(count))
        return tuple(
            Help(text=text, draws_saved=-count, share_saved=round(-count / self.late, 6))
            for count, text in ranked[:MOST_SHOWN]
        )

    def _is_worth(self, saved: int) -> bool:
        return saved >= LEAST_SHARE * self.late

    def _saves(self, change: _Change) -> int:
        """Late carts that a change saves; only what it reaches is worked out again."""
        changed = [
            place
            for place, (now, was) in enumerate(zip(change.day.links, self.day.links, strict=True))
            if now != was or any(step.station in change.hours_of for step in now.steps)
        ]
        again = late_after_change(change.day, self.draws, self.drawn, changed)
        cases = {change.day.links[place].waiter for place in again.changed}
        cases |= {case for case, _ in set(self.day.unserved) ^ set(change.day.unserved)}
        now = late_draws(change.day, self.draws, again, cases)
        return sum(self.late_carts.get(case, 0) - now.get(case, 0) for case in cases)

    def _changes(self) -> Iterable[_Change]:
        yield from self._one_more_set()
        if self._is_worth(self._saves(self._without_queues())):
            yield from self._one_more_machine()
        yield from self._longer_shift()
        settings = self.model.site.settings
        sooner = min(SOONER, settings.haul + settings.room_release)
        if sooner:
            links = (replace(one, released=one.released - sooner) if one.giver >= 0 else one for one in self.day.links)
            text = collected_sooner(sooner)
            yield _Change(text=text, day=replace(self.day, links=tuple(links)))

    def _one_more_set(self) -> Iterable[_Change]:
        """One more set: it starts on the shelf and takes over from one reuse on, or serves a use without a set."""
        day, site = self.day, self.model.site
        fails = np.count_nonzero(self.drawn.late, axis=1)
        by_tray = grouped((link.reuse.tray, place) for place, link in enumerate(day.links) if fails[place])
        weight = {tray: int(sum(fails[place] for place in places)) for tray, places in by_tray.items()}
        for _, tray in day.unserved:
            weight[tray] = weight.get(tray, 0) + self.draws.count
        for tray in sorted(weight, key=lambda one: (-weight[one], one))[:MOST_TRAYS]:
            text = one_more_set(site.tray_name(tray), tray)
            for place in sorted(by_tray.get(tray, ()), key=lambda one: (-fails[one], one))[:SPLITS_PER_TRAY]:
                links = (*day.links[:place], _on_the_shelf(day.links[place]), *day.links[place + 1 :])
                yield _Change(text=text, day=replace(day, links=links))
            served = next((use for use in day.unserved if use[1] == tray), None)
            if served is not None:
                unserved = list(day.unserved)
                unserved.remove(served)
                yield _Change(text=text, day=replace(day, unserved=tuple(unserved)))

    def _without_queues(self) -> _Change:
        """No set ever waits for another: more than any number of machines would do."""
        links = (
            replace(one, delay=0, fixed=min(one.fixed, one.hurried)) if one.delay else one for one in self.day.links
        )
        return _Change(text="", day=replace(self.day, links=tuple(links)))

    def _one_more_machine(self) -> Iterable[_Change]:
        """One more machine at each station with a queue; only the department's run knows of queues."""
        model, run, site = self.model, self.run, self.model.site
        if run is None:
            return
        queues = {step.station for way in run.runs for step in way.steps if step.queued > 0}
        calendar = self.day.stairs.calendar
        again = SameRun(site, model.assignments, model.now, run, calendar)
        for name in sorted(queues & self.concerned):
            queue = again.with_stations(with_one_more(site, name).stations)
            text = one_more_at(name, site.stations[name].machines)
            yield _Change(text=text, day=with_queue(self.day, model, queue))

    def _longer_shift(self) -> Iterable[_Change]:
        site = self.model.site
        names = sorted({period.station for period in site.hours} & self.concerned)
        if not names or not self._is_worth(self._saves(self._always_open(frozenset(names)))):
            return
        groups = [(name, frozenset({name})) for name in names]
        if len(names) > 1:
            groups = [one for one in groups if self._is_worth(self._saves(self._always_open(one[1])))]
            groups.append(("", frozenset(names)))
        for name, stations in groups:
            for earlier in (True, False):
                hours = lengthen(site.hours, stations, HOUR, earlier=earlier)
                if hours != site.hours:
                    yield self._with_hours(longer_hours(name, earlier=earlier), hours, stations)

    def _always_open(self, stations: frozenset[str]) -> _Change:
        """Stations that never close, and no queues: more than any longer hours would do."""
        site = self.model.site
        kept = tuple(period for period in site.hours if period.station not in stations)
        day = make_day(replace(self.model, site=replace(site, hours=kept), queue={}))
        return _Change(text="", day=day, hours_of=stations)

    def _with_hours(self, text: str, hours: tuple[WorkPeriod, ...], stations: frozenset[str]) -> _Change:
        model, run = self.model, self.run
        site = replace(model.site, hours=hours)
        queue = model.queue
        if run is not None:
            queue = SameRun(site, model.assignments, model.now, run).queue_times()
        return _Change(text=text, day=make_day(replace(model, site=site, queue=queue)), hours_of=stations)


def _on_the_shelf(link: ReuseLink) -> ReuseLink:
    """The link of a use that a further set serves: there long before it is needed."""
    return replace(link, giver=-1, fixed=0, hurried=0, arrives=False)


DAY = 1440


def lengthen(
    hours: Sequence[WorkPeriod], stations: Collection[str], minutes: int, *, earlier: bool
) -> tuple[WorkPeriod, ...]:
    """Lengthen working hours: the first period of each weekday opens earlier, or the last one closes later.

    Breaks stay as they are, and so does a period that would fill the whole day.
    """
    edges: dict[tuple[str, int], time] = {}
    for period in hours:
        key = (period.station, period.weekday)
        pick = min if earlier else max
        edges[key] = pick(edges.get(key, period.opens), period.opens)
    return tuple(
        _stretch(period, minutes, earlier)
        if period.station in stations and edges[period.station, period.weekday] == period.opens
        else period
        for period in hours
    )


def _stretch(period: WorkPeriod, minutes: int, earlier: bool) -> WorkPeriod:
    length = (_minutes(period.closes) - _minutes(period.opens)) % DAY or DAY
    if length + minutes >= DAY:
        return period
    if not earlier:
        return replace(period, closes=_moved(period.closes, minutes))
    eve = _minutes(period.opens) < minutes
    return replace(period, weekday=(period.weekday - eve) % 7, opens=_moved(period.opens, -minutes))


def _minutes(wall: time) -> int:
    return wall.hour * 60 + wall.minute


def _moved(wall: time, minutes: int) -> time:
    return (datetime.combine(date(2000, 1, 2), wall) + timedelta(minutes=minutes)).time()
