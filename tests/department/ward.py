"""A small invented hospital with two washers, a crew and two sterilizers, and days of cases on it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import datetime, time

from picklist.model.catalogue import Tray
from picklist.model.routes import Departure, Route, Station, Step, WorkPeriod
from picklist.model.schedule import Case
from picklist.model.sets import InstrumentSet
from picklist.model.site import Site
from picklist.model.uses import Assignment, Reuse, Use
from picklist.sets.case_uses import case_times
from picklist.sets.reuse import reuse_after, reuse_from_state
from picklist.sets.states import first_available
from picklist.sets.turnaround import Turnaround
from tests.builders import copies, tray, utc_settings

# usual 25 + 50 + 35 + 70 + 40 = 220, least 20 + 40 + 20 + 60 (cooling keeps its 40) = 180 alone
ROUTE = Route(
    id="R",
    steps=(
        Step(name="hand clean", usual_minutes=25, least_minutes=20, station="sinks"),
        Step(name="wash", after=("hand clean",), usual_minutes=50, least_minutes=40, station="washers"),
        Step(name="assemble", after=("wash",), usual_minutes=35, least_minutes=20, station="assembly"),
        Step(name="steam", after=("assemble",), usual_minutes=70, least_minutes=60, station="steam", cycle="wrapped"),
        Step(name="cool", after=("steam",), usual_minutes=40, least_minutes=30),
    ),
)
STATIONS = (
    Station(id="sinks", machines=4),
    Station(id="washers", machines=2, per_load=2),
    Station(id="assembly", machines=3),
    Station(id="steam", machines=2, per_load=4),
)


def station(site: Site, name: str, **changes: object) -> Site:
    """The site with one station changed."""
    changed = replace(site.stations[name], **changes)  # type: ignore[arg-type]
    return replace(site, stations={**site.stations, name: changed})


def open_daily(name: str, opens: str, closes: str) -> tuple[WorkPeriod, ...]:
    return tuple(
        WorkPeriod(station=name, weekday=day, opens=time.fromisoformat(opens), closes=time.fromisoformat(closes))
        for day in range(7)
    )


def ward(
    trays: Mapping[str, int] | None = None,
    *,
    cases: Iterable[Case] = (),
    hours: Iterable[WorkPeriod] = (),
    departures: Iterable[Departure] = (),
    stations: Iterable[Station] = STATIONS,
    route: Route = ROUTE,
    **settings: object,
) -> Site:
    """A site with so many sets of each tray, all on one route."""
    known: dict[str, Tray] = {}
    sets: dict[str, InstrumentSet] = {}
    for name, count in (trays or {}).items():
        known[name] = tray(name, route.id)
        sets |= copies(name, count)
    return Site(
        settings=utc_settings(**settings),
        cases=tuple(cases),
        trays=known,
        sets=sets,
        routes={route.id: route},
        stations={one.id: one for one in stations},
        hours=tuple(hours),
        departures=tuple(departures),
    )


def use(site: Site, case: Case, tray_id: str, copy: int = 1) -> Use:
    times = case_times(site.settings, case)
    return Use(
        case=case.number,
        tray=tray_id,
        copy=copy,
        needed=times.needed,
        starts=times.starts,
        ends=times.ends,
        leaves_room=times.leaves_room,
        received=times.received,
    )


def give(site: Site, now: datetime, *chains: tuple[str, Iterable[Case]]) -> tuple[list[Assignment], list[Reuse]]:
    """Each set (by id) serves these cases one after the other."""
    turnaround = Turnaround(site)
    given: list[Assignment] = []
    reuses: list[Reuse | None] = []
    for set_id, cases in chains:
        one = site.sets[set_id]
        state = first_available(turnaround, one, now)
        giver: Use | None = None
        for case in sorted(cases, key=lambda c: c.start):
            wanted = use(site, case, one.tray)
            if giver is None:
                reuses.append(reuse_from_state(turnaround, one, state, wanted))
            else:
                reuses.append(reuse_after(turnaround, one, giver, wanted))
            given.append(
                Assignment(use=wanted, set_id=set_id, tray_given=one.tray, stand_in=False, expected=None, slack=None)
            )
            giver = wanted
    return given, [one for one in reuses if one is not None]
