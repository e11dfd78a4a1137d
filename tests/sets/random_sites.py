"""Small made-up sites with everything that can tell in the giving of sets. All invented."""

from __future__ import annotations

import random
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from picklist.model.cards import ThingKind
from picklist.model.catalogue import Place, StandIn, Tray
from picklist.model.needs import CaseNeeds, Need
from picklist.model.routes import Departure, Holiday, Route, Station, Step, Transfer, WorkPeriod
from picklist.model.schedule import Case, CaseStatus, Room, Side
from picklist.model.sets import InstrumentSet, SetState
from picklist.model.site import Site
from picklist.model.uses import Use
from picklist.sets.case_uses import make_uses
from tests.builders import DAY, at, case, tray, utc_settings

BUILDINGS = {"OR 1": "east", "OR 2": "east", "OR 3": "west", "OR 4": "west"}


@dataclass(frozen=True, kw_only=True)
class Evening:
    """A site, what its cases need and the moment at which it is planned."""

    site: Site
    uses: tuple[Use, ...]
    now: datetime


def random_evening(seed: str, *, cases: int = 7, trays: int = 3, spare: int = 0, several: bool = True) -> Evening:
    """An evening drawn from a word; ``spare`` sets more of each tray than otherwise.

    ``several``: a case may want several sets and trays, else one set of one tray.
    """
    draw = random.Random(seed)
    now = draw.choice([at("18:00", -1), at("18:00", -1), at("05:00"), at("10:00")])
    two_buildings = draw.random() < 0.4
    records = draw.random() < 0.4  # else trays on hold: a record that ends while one is held is tested elsewhere
    names = [f"T{number}" for number in range(1, draw.randrange(1, trays + 1) + 1)]
    made = [_case(draw, number, now) for number in range(1, draw.randrange(3, cases + 1) + 1)]
    catalogue = {name: _tray(draw, name, names) for name in names}
    site = Site(
        settings=utc_settings(
            setup_lead=draw.choice([0, 30, 45]),
            haul=draw.choice([0, 10]),
            room_release=draw.choice([0, 15]),
            margin=draw.choice([0, 30, 90]),
        ),
        cases=tuple(made),
        trays=catalogue,
        sets={one.id: one for name in names for one in _sets(draw, name, made, now, spare=spare, records=records)},
        routes={name: _route(draw, name) for name in ("R1", "R2")},
        stations={one.id: one for one in (Station(id="wash"), Station(id="steam", start_every=30, past_closing=True))},
        hours=_hours(draw),
        holidays=(Holiday(day=DAY + timedelta(days=1)),) if draw.random() < 0.2 else (),
        departures=tuple(
            Departure(run="van", weekday=day, leaves=at(wall).time())
            for day in range(7)
            for wall in ("06:00", "11:00", "16:00")
        ),
        places={home: Place(id=home, building=home if two_buildings else "") for home in ("east", "west")},
        rooms={name: Room(id=name, building=home if two_buildings else "") for name, home in BUILDINGS.items()},
        transfers=_transfers(draw),
    )
    needs = [_needs(draw, one, names, several=several, holds=not records) for one in made]
    return Evening(site=site, uses=make_uses(site, needs, made), now=now)


def _case(draw: random.Random, number: int, now: datetime) -> Case:
    start = at("07:00") + timedelta(minutes=draw.randrange(0, 700, 5), days=draw.choice([0, 0, 0, 0, 1]))
    minutes = draw.randrange(20, 200, 5)
    running = start <= now < start + timedelta(minutes=minutes)
    return replace(
        case(f"C{number}", "07:00", minutes, draw.choice(list(BUILDINGS))),
        start=start,
        day=start.date(),
        priority=draw.choice([1, 1, 1, 2, 4]),
        status=CaseStatus.RUNNING if running else CaseStatus.DONE if start < now else CaseStatus.PLANNED,
    )


def _tray(draw: random.Random, name: str, names: list[str]) -> Tray:
    others = [other for other in names if other != name]
    stand_ins = draw.sample(others, draw.randrange(len(others) + 1)) if draw.random() < 0.6 else []
    return tray(
        name,
        draw.choice(["R1", "R2"]),
        sided=draw.random() < 0.15,
        keep_ready=draw.choice([0, 0, 0, 1, 2]),
        stand_ins=tuple(StandIn(tray=other, preference=draw.randrange(1, 4)) for other in stand_ins),
    )


def _sets(
    draw: random.Random, name: str, cases: list[Case], now: datetime, *, spare: int, records: bool
) -> list[InstrumentSet]:
    found = []
    running = [one.number for one in cases if one.status is CaseStatus.RUNNING]
    for number in range(1, draw.randrange(1, 4) + spare + 1):
        state = draw.choice(
            [SetState.ON_SHELF] * 6 + [SetState.DIRTY, SetState.AWAY, SetState.ON_LOAN, SetState.UNKNOWN]
        )
        one = InstrumentSet(
            id=f"{name}-{number}",
            tray=name,
            state=state,
            side=draw.choice([Side.LEFT, Side.RIGHT, Side.BOTH]),
            place=draw.choice(["east", "west"]),
        )
        soon = now + timedelta(minutes=draw.randrange(-60, 900))
        if state is SetState.ON_SHELF and records and draw.random() < 0.4:
            one = replace(one, recorded_until=soon)
        if state in (SetState.ON_SHELF, SetState.DIRTY) and draw.random() < 0.1:
            one = replace(one, return_by=now + timedelta(minutes=draw.randrange(600, 2000)))
        if state is SetState.AWAY:
            one = replace(one, back_at=soon)
        if state is SetState.ON_LOAN:
            one = replace(one, back_at=soon, return_by=soon + timedelta(minutes=draw.randrange(600, 2000)))
        if running and draw.random() < 0.2:
            one = replace(one, state=SetState.IN_USE, in_case=draw.choice(running), recorded_until=None)
        found.append(one)
    return found


def _route(draw: random.Random, name: str) -> Route:
    wash, steam, cool = (draw.randrange(10, 80, 5) for _ in range(3))
    steps = (
        Step(name="soak", usual_minutes=15, least_minutes=5, in_room=draw.random() < 0.3),
        Step(
            name="wash", after=("soak",), usual_minutes=wash, least_minutes=draw.randrange(5, wash + 1), station="wash"
        ),
        Step(name="steam", after=("wash",), usual_minutes=steam, least_minutes=steam, station="steam"),
        Step(name="look over", after=("wash",), usual_minutes=40, least_minutes=20),
        Step(name="cool", after=("steam", "look over"), usual_minutes=cool, least_minutes=draw.randrange(5, cool + 1)),
    )
    return Route(id=name, steps=steps)


def _hours(draw: random.Random) -> tuple[WorkPeriod, ...]:
    style = draw.choice(["always", "long", "day and night"])
    if style == "always":
        return ()
    walls = {"long": [("05:00", "23:00")], "day and night": [("06:00", "14:00"), ("20:00", "02:00")]}[style]
    return tuple(
        WorkPeriod(station=name, weekday=day, opens=at(opens).time(), closes=at(closes).time())
        for name in ("wash", "steam")
        for day in range(7)
        for opens, closes in walls
    )


def _transfers(draw: random.Random) -> tuple[Transfer, ...]:
    there = Transfer(from_building="east", to_building="west", minutes=20, run=draw.choice(["", "van"]))
    back = Transfer(from_building="west", to_building="east", minutes=35, run=draw.choice(["", "", "van"]))
    return draw.choice([(there,), (there, back), (there, back)])


def _needs(draw: random.Random, one: Case, names: list[str], *, several: bool, holds: bool) -> CaseNeeds:
    needs = []
    for name in draw.sample(names, draw.randrange(1, min(2, len(names)) + 1) if several else 1):
        opened, hold = draw.choice([(1, 0), (1, 0), (0, 1), *([(1, 0), (2, 0), (1, 1)] if several else [])])
        if hold and not holds:
            opened, hold = opened + hold, 0
        side = draw.choice([Side.LEFT, Side.RIGHT])
        need = Need(case=one.number, kind=ThingKind.TRAY, thing=name, name=name, open=opened, hold=hold, side=side)
        needs.append(need)
    return CaseNeeds(case=one.number, needs=tuple(needs))
