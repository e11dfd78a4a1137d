"""Rank what would help most: purchases and changes, each simulated with the same draws, by late carts saved."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta

import numpy as np
from numpy.typing import NDArray

from picklist.department.best_run import run_again
from picklist.department.day import ChanceModel, Day, make_day
from picklist.department.propagate import DrawnDays, propagate
from picklist.department.queue_conflicts import with_one_more
from picklist.department.ready_table import Minutes
from picklist.model.department import Help
from picklist.model.routes import WorkPeriod
from picklist.model.site import Site
from picklist.sets.calendar import Calendar

MOST_TRAYS = 8
SPLITS_PER_TRAY = 2
MOST_SHOWN = 10
LEAST_SHARE = 0.01  # of the late carts: less is not worth a line
SOONER = 10
HOUR = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class _Change:
    text: str
    day: Day


def rank_improvements(model: ChanceModel, day: Day, drawn: DrawnDays, minutes: Minutes) -> tuple[Help, ...]:
    """Changes that save late carts, best first; equal ones by their text.

    A cart is late in a draw when at least one of its sets is not there in time. A use without a
    set makes its cart late in every draw.
    """
    late = count_late_carts(day, drawn)
    if not late:
        return ()
    saved: dict[str, int] = {}
    for change in _changes(model, day, drawn):
        left = count_late_carts(change.day, propagate(change.day, minutes))
        saved[change.text] = max(saved.get(change.text, 0), late - left)
    ranked = sorted((-count, text) for text, count in saved.items() if count >= LEAST_SHARE * late)
    return tuple(
        Help(text=text, draws_saved=-count, share_saved=round(-count / late, 6)) for count, text in ranked[:MOST_SHOWN]
    )


def count_late_carts(day: Day, drawn: DrawnDays) -> int:
    """Late carts over all draws."""
    late: dict[int, NDArray[np.bool_]] = {}
    for place, link in enumerate(day.links):
        before = late.get(link.waiter)
        now = drawn.late[place] > 0
        late[link.waiter] = now if before is None else before | now
    for case, _ in day.unserved:
        late[case] = np.ones(drawn.late.shape[1], dtype=bool)
    return int(sum(np.count_nonzero(one) for one in late.values()))


def _changes(model: ChanceModel, day: Day, drawn: DrawnDays) -> Iterable[_Change]:
    yield from _one_more_set(model.site, day, drawn)
    failing = [link for place, link in enumerate(day.links) if drawn.late[place].any()]
    concerned = frozenset(step.station for link in failing for step in link.steps if step.station)
    yield from _one_more_machine(model, day, concerned)
    yield from _longer_shift(model, concerned)
    settings = model.site.settings
    sooner = min(SOONER, settings.haul + settings.room_release)
    if sooner:
        text = f"sets collected from the room {sooner} min sooner"
        yield _Change(text=text, day=make_day(replace(model, sooner=sooner), day.stairs))


def _one_more_set(site: Site, day: Day, drawn: DrawnDays) -> Iterable[_Change]:
    """One more set: it starts on the shelf and takes over from one reuse on, or serves a use without a set."""
    fails = np.count_nonzero(drawn.late, axis=1)
    by_tray: dict[str, list[int]] = defaultdict(list)
    for place, link in enumerate(day.links):
        if fails[place]:
            by_tray[link.reuse.tray].append(place)
    weight = {tray: int(sum(fails[place] for place in places)) for tray, places in by_tray.items()}
    for _, tray in day.unserved:
        weight[tray] = weight.get(tray, 0) + drawn.late.shape[1]
    for tray in sorted(weight, key=lambda one: (-weight[one], one))[:MOST_TRAYS]:
        text = f"one more set of {site.trays[tray].name if tray in site.trays else tray} ({tray})"
        for place in sorted(by_tray[tray], key=lambda one: (-fails[one], one))[:SPLITS_PER_TRAY]:
            links = day.links[:place] + day.links[place + 1 :]
            yield _Change(text=text, day=replace(day, links=links))
        served = next((use for use in day.unserved if use[1] == tray), None)
        if served is not None:
            unserved = list(day.unserved)
            unserved.remove(served)
            yield _Change(text=text, day=replace(day, unserved=tuple(unserved)))


def _one_more_machine(model: ChanceModel, day: Day, concerned: frozenset[str]) -> Iterable[_Change]:
    """One more machine at each station with a queue; only the department's run knows of queues."""
    site, run = model.site, model.department
    queues = {step.station for way in (run.runs if run else ()) for step in way.steps if step.queued > 0}
    for name in sorted(queues & concerned):
        changed = _run_again(model, with_one_more(site, name), day.stairs.calendar)
        text = f"one more at {name} ({site.stations[name].machines} now)"
        yield _Change(text=text, day=make_day(changed, day.stairs))


def _longer_shift(model: ChanceModel, concerned: frozenset[str]) -> Iterable[_Change]:
    site = model.site
    names = sorted({period.station for period in site.hours} & concerned)
    groups = [(name, frozenset({name})) for name in names]
    if len(names) > 1:
        groups.append(("all stations", frozenset(names)))
    for name, stations in groups:
        for earlier, words in ((True, "open an hour earlier"), (False, "close an hour later")):
            hours = lengthen(site.hours, stations, HOUR, earlier=earlier)
            if hours != site.hours:
                changed = _run_again(model, replace(site, hours=hours))
                yield _Change(text=f"{name} to {words}", day=make_day(changed))


def _run_again(model: ChanceModel, site: Site, calendar: Calendar | None = None) -> ChanceModel:
    run = model.department
    if run is not None:
        run = run_again(site, model.assignments, model.now, run, calendar)
    return replace(model, site=site, department=run)


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
