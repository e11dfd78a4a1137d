"""A small site for what the crew tells: two knees, a saw that stands in, laps and their other brand."""

from __future__ import annotations

from dataclasses import replace

from picklist.model.catalogue import Item, Lot, StandIn, Tray
from picklist.model.plan import Plan
from picklist.model.schedule import Side
from picklist.model.sets import InstrumentSet, SetState
from picklist.model.site import Site
from tests.builders import DAY, utc_settings
from tests.evening.builders import a_case, cart, pick, plan, sundry, tray_line, tray_need

GTIN = "12345678901231"

ITEMS = (
    Item(id="100245", name="Laps", place="A-02-10", gtin=GTIN, latex=False),
    Item(id="100246", name="Laps, other brand", place="A-02-11", latex=False),
    Item(id="100300", name="Drain", place="A-03-01", latex=True, latex_free_twin="100301"),
    Item(id="100301", name="Drain without latex", place="A-03-02", latex=False),
    Item(id="0077", name="Blade", place="A-01-01", latex=False),
)
TRAYS = (
    Tray(id="knee", name="Knee", route="R", stand_ins=(StandIn(tray="knee-old", preference=1),)),
    Tray(id="knee-old", name="Knee, old", route="R"),
    Tray(id="saw", name="Saw", route="R"),
    Tray(id="ankle", name="Ankle", route="R", sided=True),
)
SETS = (
    InstrumentSet(id="KNEE-01", tray="knee", place="S-01"),
    InstrumentSet(id="KNEE-02", tray="knee", place="S-01"),
    InstrumentSet(id="KNEE-03", tray="knee", state=SetState.INCOMPLETE, place="S-01"),
    InstrumentSet(id="OLD-01", tray="knee-old", place="S-02"),
    InstrumentSet(id="SAW-01", tray="saw", place="S-03"),
    InstrumentSet(id="ANKLE-L", tray="ankle", side=Side.LEFT, place="S-04"),
    InstrumentSet(id="ANKLE-R", tray="ankle", side=Side.RIGHT, place="S-04"),
)
LOTS = (
    Lot(item="100245", lot="L1", quantity=40, expiry=None, place="A-02-10"),
    Lot(item="0077", lot="B7", quantity=12, expiry=None, place="A-01-01"),
)


def a_site() -> Site:
    return Site(
        settings=utc_settings(),
        items={one.id: one for one in ITEMS},
        trays={one.id: one for one in TRAYS},
        sets={one.id: one for one in SETS},
        lots=LOTS,
    )


def a_plan(revision: int = 1) -> Plan:
    """C-1: a knee, a saw, five laps (one on hold), two blades; C-2: an ankle, left, with a latex alert."""
    one = cart(
        a_case("C-1"),
        (tray_line("knee", "KNEE-01"), tray_line("saw", "SAW-01")),
        (
            sundry("100245", pick("100245", "L1", 4, 1)),
            sundry("0077", pick("0077", "B7", 2, place="A-01-01")),
        ),
    )
    two = cart(
        a_case("C-2", "10:00", room="OR 2", side=Side.LEFT, alerts=("latex",)),
        (tray_line("ankle", "ANKLE-L", need=replace(tray_need("ankle", ""), side=Side.LEFT)),),
        (sundry("100301", pick("100301", "D1", 1, place="A-03-02")),),
        side=Side.LEFT,
    )
    assert one.case.day == DAY
    return plan(one, two, revision=revision, sets=SETS, trays=TRAYS, items=ITEMS)
