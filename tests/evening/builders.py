"""Plans built by hand: short words for carts, tray lines and sundry lines. All data is invented."""

from __future__ import annotations

from collections import Counter
from datetime import UTC, date, datetime, timedelta

from picklist.evening.content import Content, ContentChange
from picklist.model.cards import ThingKind
from picklist.model.catalogue import Item, ItemClass, Tray
from picklist.model.conflicts import Cluster, Conflict
from picklist.model.needs import CaseNeeds, Need
from picklist.model.plan import Cart, GiveBack, Plan, SundryLine, TrayLine
from picklist.model.schedule import Case, Side
from picklist.model.sets import InstrumentSet
from picklist.model.supply import Pick
from picklist.model.uses import Reuse, Walk
from picklist.problems import Problem
from tests.builders import DAY, at, utc_settings

EVENING = datetime(DAY.year, DAY.month, DAY.day, 18, 40, tzinfo=UTC) - timedelta(days=1)


def tray_need(tray: str, case: str, hold: bool = False) -> Need:
    return Need(case=case, kind=ThingKind.TRAY, thing=tray, name=tray.title(), open=int(not hold), hold=int(hold))


def tray_line(tray: str, set_id: str, case: str = "", **changes: object) -> TrayLine:
    fields: dict[str, object] = {
        "need": tray_need(tray, case),
        "copy": 1,
        "name": tray.title(),
        "container": False,
        "count_sheet": True,
        "weight_lb": 12.0,
        "set_id": set_id,
        "stand_in_for": "",
        "place_now": "S-01",
        "recorded": None,
        "expected": None,
        "needed": at("07:00"),
        "give_back": None,
        "conflicts": (),
    }
    need = changes.get("need", fields["need"])
    return TrayLine(**({"on_hold": isinstance(need, Need) and not need.open} | fields | changes))  # type: ignore[arg-type]


def give_back(leave: str, reach: str, for_case: str) -> GiveBack:
    return GiveBack(leave_room_by=at(leave), reach_decontamination_by=at(reach), for_case=for_case, slack=20)


def comes(
    expected: str = "12:00", giver: str = "C-5", slack: int = 12, needed: str = "12:30", released: str = "08:00"
) -> Reuse:
    """KNEE-01 on its way to case C-1."""
    return Reuse(
        set_id="KNEE-01",
        tray="knee",
        giver=giver,
        waiter="C-1",
        waiter_use="C-1/knee/1",
        from_state="",
        released=at(released),
        ready=at(expected),
        least_ready=at(expected),
        needed=at(needed),
        slack=slack,
        least_slack=slack,
        deadlines=(),
        walk=Walk(released=at(released), ready=at(expected), steps=()),
    )


def pick(item: str, lot: str, opened: int, hold: int = 0, place: str = "A-02-10", **changes: object) -> Pick:
    fields: dict[str, object] = {
        "case": "",
        "item": item,
        "lot": lot,
        "place": place,
        "expiry": date(2027, 6, 30),
        "open": opened,
        "hold": hold,
    }
    return Pick(**(fields | changes))  # type: ignore[arg-type]


def sundry(item: str, *picks: Pick, short: tuple[int, int] = (0, 0), person: str = "") -> SundryLine:
    """A line of an item that asks for what its picks and shortages make together."""
    need = Need(
        case="",
        kind=ThingKind.ITEM,
        thing=item,
        name=f"Item {item}",
        open=sum(p.open for p in picks) + short[0],
        hold=sum(p.hold for p in picks) + short[1],
        item_class=ItemClass.SUPPLY,
        person=person,
    )
    return SundryLine(need=need, unit="each", picks=picks, short_open=short[0], short_hold=short[1])


def a_case(number: str, start: str = "07:30", room: str = "OR 1", **changes: object) -> Case:
    fields: dict[str, object] = {
        "number": number,
        "day": DAY,
        "room": room,
        "start": at(start),
        "minutes": 90,
        "surgeon": f"S-{number}",
        "procedures": (f"P-{number}",),
    }
    return Case(**(fields | changes))  # type: ignore[arg-type]


def cart(
    case: Case,
    trays: tuple[TrayLine, ...] = (),
    sundries: tuple[SundryLine, ...] = (),
    stopped: tuple[Problem, ...] = (),
    side: Side | None = None,
) -> Cart:
    return Cart(
        case=case,
        surgeon_name=f"Dr. {case.surgeon}",
        procedure_names=case.procedures,
        side=side,
        complete_by=case.start - timedelta(minutes=30),
        needs=CaseNeeds(case=case.number),
        trays=trays,
        packs=(),
        sundries=sundries,
        peel_packs=(),
        people=(),
        room_checks=(),
        implants=(),
        reference_only=(),
        stopped=stopped,
    )


def plan(
    *carts: Cart,
    revision: int = 1,
    now: datetime = EVENING,
    sets: tuple[InstrumentSet, ...] = (),
    conflicts: tuple[Conflict, ...] = (),
    reuses: tuple[Reuse, ...] = (),
    cases: tuple[Case, ...] = (),
    items: tuple[Item, ...] = (),
    trays: tuple[Tray, ...] = (),
) -> Plan:
    clusters = (Cluster(id="K1", cases=(), conflicts=conflicts),) if conflicts else ()
    return Plan(
        version=1,
        day=DAY,
        now=now,
        revision=revision,
        replaces=revision - 1 or None,
        settings=utc_settings(),
        carts=carts,
        cases=(*(c.case for c in carts), *cases),
        assignments=(),
        reuses=reuses,
        clusters=clusters,
        shortages=(),
        department=None,
        chance=None,
        sets=sets,
        trays=trays,
        items=items,
        places=(),
        problems=(),
    )


def apply_change(before: Content, change: ContentChange) -> Content:
    """The content after a change was carried out.

    Raises ValueError when the change takes off what is not there.
    """
    content = Counter(before)
    for off in change.take_off:
        content[off.piece] -= off.quantity
    for remark in change.remark:
        content[remark.before] -= remark.quantity
    if any(quantity < 0 for quantity in content.values()):
        raise ValueError("the change takes off what is not on the cart")
    for remark in change.remark:
        content[remark.after] += remark.quantity
    for on in change.add:
        content[on.piece] += on.quantity
    return +content
