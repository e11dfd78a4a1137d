"""Made-up days of any size, for comparisons and timing. All invented."""

from __future__ import annotations

import random
from dataclasses import replace

from picklist.clock import shift
from picklist.model.cards import ThingKind
from picklist.model.catalogue import StandIn
from picklist.model.needs import CaseNeeds, Need
from picklist.model.schedule import Room
from picklist.model.sets import InstrumentSet
from picklist.model.site import Site
from picklist.model.uses import Use
from picklist.sets.case_uses import make_uses
from tests.builders import at, case, straight_route, tray, utc_settings

ROUTE = straight_route("R", ("wash", 60, 45), ("assemble", 40, 20), ("steam", 60, 60), ("cool", 45, 30))


def random_day(
    seed: int, *, cases: int, rooms: int, trays: int, per_case: tuple[int, int] = (1, 2), spare: float = 1.0
) -> tuple[Site, tuple[Use, ...]]:
    """A day with so many cases in so many rooms; ``spare`` scales the number of sets per wanted tray."""
    draw = random.Random(seed)
    names = [f"T-{n:03d}" for n in range(trays)]
    made = []
    needs = []
    for room in range(rooms):
        moment = at("07:30") if draw.random() < 0.8 else at("09:00")
        for number in range(room, cases, rooms):
            minutes = draw.randrange(45, 200, 5)
            made.append(
                replace(
                    case(f"C-{number:03d}", "07:30", minutes, f"OR {room + 1}"),
                    start=moment,
                    surgeon=f"Dr {draw.randrange(cases)}",
                    may_move=draw.random() < 0.85,
                )
            )
            moment = shift(moment, minutes + draw.choice([30, 30, 45, 90]))
            wanted = draw.sample(names, min(trays, draw.randrange(per_case[0], per_case[1] + 1)))
            needs.append(_needs(f"C-{number:03d}", wanted, draw))
    demand = {name: sum(need.thing == name for one in needs for need in one.needs) for name in names}
    catalogue = {name: tray(name) for name in names}
    for name in names[::5]:
        other = draw.choice(names)
        if other != name:
            catalogue[name] = replace(catalogue[name], stand_ins=(StandIn(tray=other, preference=1),))
    sets = {}
    for name in names:
        for n in range(max(1, round(demand[name] * draw.uniform(0.35, 0.8) * spare))):
            one = InstrumentSet(id=f"{name}-{n + 1:02d}", tray=name)
            sets[one.id] = one
    site = Site(
        settings=utc_settings(),
        cases=tuple(made),
        trays=catalogue,
        sets=sets,
        routes={"R": ROUTE},
        rooms={f"OR {n + 1}": Room(id=f"OR {n + 1}") for n in range(rooms)},
    )
    return site, make_uses(site, needs, site.cases)


def _needs(number: str, wanted: list[str], draw: random.Random) -> CaseNeeds:
    needs = []
    for name in wanted:
        hold = draw.random() < 0.1
        needs.append(Need(case=number, kind=ThingKind.TRAY, thing=name, name=name, open=int(not hold), hold=int(hold)))
    return CaseNeeds(case=number, needs=tuple(needs))
