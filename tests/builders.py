"""Short words for building scenarios: a day, cases, trays, sets and routes with plain defaults.

All data here is invented.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

from picklist.clock import SiteClock
from picklist.model.catalogue import Tray
from picklist.model.conflicts import Conflict
from picklist.model.routes import Route, Step
from picklist.model.schedule import Case
from picklist.model.sets import InstrumentSet
from picklist.settings import Settings
from picklist.wording.say_conflicts import statement, why

DAY = date(2026, 11, 26)


def at(wall: str, day: int = 0) -> datetime:
    """``at("07:30")`` on the scenario's day in a UTC site, ``day`` days later."""
    hours, minutes = wall.split(":")
    midnight = datetime(DAY.year, DAY.month, DAY.day, tzinfo=UTC) + timedelta(days=day)
    return midnight + timedelta(hours=int(hours), minutes=int(minutes))


def utc_settings(**changes: object) -> Settings:
    """Settings of a site whose wall clock is UTC."""
    return Settings(site="Example Hospital", time_zone="UTC", **changes)  # type: ignore[arg-type]


def case(number: str, start: str, minutes: int, room: str = "OR 1", **changes: object) -> Case:
    """A case on the scenario's day; surgeon and procedure follow its number unless given."""
    fields: dict[str, object] = {
        "number": number,
        "day": DAY,
        "room": room,
        "start": at(start),
        "minutes": minutes,
        "surgeon": f"S-{number}",
        "procedures": ("P1",),
    }
    return Case(**(fields | changes))  # type: ignore[arg-type]


def straight_route(name: str, *steps: tuple[str, int, int]) -> Route:
    """A route whose steps (name, usual, least) follow each other and need no station."""
    made: list[Step] = []
    for step, usual, least in steps:
        after = (made[-1].name,) if made else ()
        made.append(Step(name=step, after=after, usual_minutes=usual, least_minutes=least))
    return Route(id=name, steps=tuple(made))


def tray(name: str, route: str = "R", **changes: object) -> Tray:
    """A tray on a route."""
    return Tray(id=name, name=name.title(), route=route, **changes)  # type: ignore[arg-type]


def copies(tray_id: str, count: int, **changes: object) -> dict[str, InstrumentSet]:
    """So many sets of a tray, on the shelf, keyed by id."""
    made = [InstrumentSet(id=f"{tray_id}-{n:02d}", tray=tray_id, **changes) for n in range(1, count + 1)]  # type: ignore[arg-type]
    return {one.id: one for one in made}


def says(conflict: Conflict) -> str:
    """The sentence of a conflict at a site whose wall clock is UTC."""
    return statement(conflict, SiteClock("UTC"))


def says_of_sets(conflict: Conflict) -> dict[str, str]:
    """By set what the proof of a conflict says of it."""
    sets = conflict.proof.sets if conflict.proof else ()
    return {one.set_id: why(conflict, one, SiteClock("UTC")) for one in sets}
