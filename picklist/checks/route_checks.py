"""Check for routes that never end, routes quicker than published cycles allow, and hours that look unintended."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, time

from picklist.clock import minutes_between
from picklist.model.routes import Route, Step
from picklist.model.site import Site
from picklist.model.uses import Pace
from picklist.problems import Problem, notice, to_fix
from picklist.sets.calendar import Calendar, make_calendar, minute_from
from picklist.sets.start_slots import HORIZON_DAYS
from picklist.sets.timed_route import TimedRoute
from picklist.wording import span
from picklist.wording.set_states import never_starts

# Washer phases 4:38 + 7:20 + 2:00 + 1:30 + 22:22 (J Foot Ankle Res 2011 4:2, table 2), exposure 4 and
# drying 20 at 132 °C (CDC guideline 2008, table 7), cooling 30 (ANSI/AAMI ST79, quoted second hand): 91:50.
LEAST_STEAM_ROUTE = 92


def find_dead_ends(site: Site, now: datetime, calendar: Calendar | None = None) -> tuple[Problem, ...]:
    """Find steps and transfers that cannot start within the horizon from now: their sets are never ready."""
    calendar = calendar or make_calendar(site)
    found = [_dead_end(step, now, calendar) for route in site.routes.values() for step in route.steps]
    found += [_dead_end(step, now, calendar) for step in _transfers(site)]
    return tuple(problem for problem in found if problem is not None)


def find_hasty_routes(site: Site, _now: datetime) -> tuple[Problem, ...]:
    """Notices for routes with a documented sterilizer cycle whose least minutes add up to too few.

    Compared along the longest chain of steps, without waiting for hours or runs.
    """
    bare = Calendar(site.settings.site_clock, ())
    return tuple(
        _hasty(route, minutes)
        for route in site.routes.values()
        if any(step.temperature_c is not None for step in route.steps)
        and (minutes := _least_minutes(route, bare)) < LEAST_STEAM_ROUTE
    )


def find_whole_days(site: Site, _now: datetime) -> tuple[Problem, ...]:
    """Notices for hours that open and close at one time of day, and so count as 24 hours; midnight says so itself."""
    read_out = site.settings.site_clock.wall_text
    found = {
        (period.where, period.station, period.opens): notice(
            "hours round the clock",
            period.where.at("to"),
            f"{period.station} opens and closes at {read_out(period.opens)}; it was taken to work 24 hours",
            value=read_out(period.closes),
            expected="00:00 to 24:00 for a whole day, no row for a day without work",
        )
        for period in site.hours
        if period.opens == period.closes != time(0)
    }
    return tuple(found.values())


def _dead_end(step: Step, now: datetime, calendar: Calendar) -> Problem | None:
    start_slots = calendar.start_slots(step.station, step.run, step.usual_minutes)
    if start_slots is None:
        return None
    begin = start_slots.begin_from(minute_from(now))
    if begin is not None and start_slots.end(begin) is not None:
        return None
    why = never_starts(step)
    return to_fix(
        "route never ends",
        step.where.at("run" if step.run else "station"),
        f"{why} within {HORIZON_DAYS} days, so sets that need it are never ready",
        value=step.run or step.station,
        expected=_what_would_do(step),
    )


def _what_would_do(step: Step) -> str:
    if step.run:
        return f"a departure of {step.run} in Departures"
    return f"hours (and a fixed start) of {step.station} that leave {span(step.usual_minutes)} before closing"


def _transfers(site: Site) -> Iterator[Step]:
    for one in site.transfers:
        name = f"transfer from {one.from_building} to {one.to_building}"
        yield Step(name=name, usual_minutes=one.minutes, least_minutes=one.minutes, run=one.run, where=one.where)


def _least_minutes(route: Route, bare: Calendar) -> int:
    steps = tuple(replace(step, run="", station="") for step in route.steps)
    released = datetime.fromisoformat("2000-01-01T00:00+00:00")
    ready = TimedRoute(steps, bare, Pace.LEAST).ready(released)
    return minutes_between(released, ready) if ready else 0


def _hasty(route: Route, minutes: int) -> Problem:
    return notice(
        "route is hasty",
        route.where,
        f"route {route.id} takes {span(minutes)} at least, which is quicker than published cycles",
        value=str(minutes),
        expected=f"{span(LEAST_STEAM_ROUTE)} or more for wrapped instruments from washer to shelf; "
        "device instructions and local policy decide",
    )
