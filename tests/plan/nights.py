"""A small hospital for whole plans: each procedure asks for the trays that its name lists. All data is invented."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from picklist.model.cards import CardLine, Change, ThingKind
from picklist.model.catalogue import Procedure, Tray
from picklist.model.plan import Cart, Plan, TrayLine
from picklist.model.schedule import Case
from picklist.model.sets import InstrumentSet, SetState
from picklist.model.site import Site
from picklist.plan import PlanRequest, make_plan
from picklist.settings import Settings
from tests.builders import DAY, straight_route, tray, utc_settings

TURN = 180  # usual minutes of the only route; at least 120


def asks(procedure: str, thing: str, opened: int = 1, hold: int = 0, **changes: object) -> CardLine:
    fields: dict[str, object] = {
        "procedure": procedure,
        "surgeon": None,
        "change": Change.ADD,
        "kind": ThingKind.TRAY,
        "thing": thing,
        "open": opened,
        "hold": hold,
    }
    return CardLine(**(fields | changes))  # type: ignore[arg-type]


def hospital(
    cases: Iterable[Case],
    sets: Iterable[InstrumentSet],
    lines: Iterable[CardLine] = (asks("P1", "wrist"),),
    trays: Iterable[Tray] = (tray("wrist"),),
    settings: Settings | None = None,
) -> Site:
    cases, lines = tuple(cases), tuple(lines)
    named = {procedure for case in cases for procedure in case.procedures}
    return Site(
        settings=settings or utc_settings(setup_lead=30),
        cases=cases,
        procedures={one: Procedure(id=one, name=f"Procedure {one}", service="") for one in sorted(named)},
        card_lines=lines,
        trays={one.id: one for one in trays},
        sets={one.id: one for one in sets},
        routes={"R": straight_route("R", ("wash", 60, 40), ("sterilize", 120, 80))},
    )


def shelf(set_id: str, tray_id: str = "wrist", **changes: object) -> InstrumentSet:
    return InstrumentSet(id=set_id, tray=tray_id, **({"place": "A-1-1"} | changes))  # type: ignore[arg-type]


def in_use(set_id: str, case: str, tray_id: str = "wrist", **changes: object) -> InstrumentSet:
    return InstrumentSet(id=set_id, tray=tray_id, state=SetState.IN_USE, in_case=case, **changes)  # type: ignore[arg-type]


def planned(site: Site, now: datetime) -> Plan:
    """The plan of the scenario's day, without chances and remedies."""
    return make_plan(site, (), PlanRequest(day=DAY, now=now, with_chance=False, with_remedies=False))


def cart_of(plan: Plan, case: str) -> Cart:
    return next(cart for cart in plan.carts if cart.case.number == case)


def lines_of(plan: Plan, case: str) -> tuple[TrayLine, ...]:
    return cart_of(plan, case).trays
