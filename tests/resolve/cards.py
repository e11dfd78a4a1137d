"""Short words for cards, items and packs in the resolving tests. All data here is invented."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from picklist.model.cards import CardLine, Change, Condition, ConditionKind, ThingKind
from picklist.model.catalogue import Item, Pack, PackLine, Procedure, Tray
from picklist.model.needs import CaseNeeds
from picklist.model.schedule import Case, StaffMember
from picklist.model.site import Site
from picklist.problems import Where
from picklist.resolve import resolve_case
from tests.builders import case, tray, utc_settings

SURGEON = "S04"


def row(number: int, sheet: str = "Cards") -> Where:
    return Where(file="cards.xlsx", sheet=sheet, row=number)


def line(thing: str, amounts: str = "0/0", **changes: object) -> CardLine:
    """A line of P1 for every surgeon: ``line("gown", "4/1")`` adds 4 open and 1 hold of an item."""
    opened, held = (int(part) for part in amounts.split("/"))
    fields: dict[str, object] = {
        "procedure": "P1",
        "surgeon": None,
        "change": Change.ADD,
        "kind": ThingKind.ITEM,
        "thing": thing,
        "open": opened,
        "hold": held,
    }
    return CardLine(**(fields | changes))  # type: ignore[arg-type]


def replacing(thing: str, amounts: str = "0/0", **changes: object) -> CardLine:
    return line(thing, amounts, **({"change": Change.REPLACE} | changes))


def removing(thing: str, **changes: object) -> CardLine:
    return line(thing, "0/0", **({"change": Change.REMOVE} | changes))


def tray_line(thing: str, amounts: str = "1/0", **changes: object) -> CardLine:
    return line(thing, amounts, **({"kind": ThingKind.TRAY} | changes))


def pack_line(thing: str, amounts: str = "1/0", **changes: object) -> CardLine:
    return line(thing, amounts, **({"kind": ThingKind.PACK} | changes))


def only_if(words: str) -> tuple[Condition, ...]:
    """``only_if("not alert latex")``."""
    parts = words.split()
    negated = parts[0] == "not"
    kind, value = parts[1:] if negated else parts
    return (Condition(kind=ConditionKind(kind), value=value, negated=negated),)


def item(name: str, **changes: object) -> Item:
    """An item that is stated to be free of latex, unless the changes say otherwise."""
    fields = {"id": name, "name": name.replace("-", " ").capitalize(), "latex": False, "where": row(90, "Items")}
    return Item(**(fields | changes))  # type: ignore[arg-type]


def pack(name: str, **contents: int) -> Pack:
    """A pack with its contents; underscores in names stand for hyphens."""
    lines = tuple(PackLine(item=i.replace("_", "-"), quantity=n, where=row(70, "Packs")) for i, n in contents.items())
    return Pack(id=name, name=name.capitalize(), lines=lines)


def person(name: str, **sizes: object) -> StaffMember:
    return StaffMember(id=name, name=f"Dr. {name}", where=row(50, "Staff"), **sizes)  # type: ignore[arg-type]


def house(
    lines: Iterable[CardLine],
    *,
    items: Iterable[Item] = (),
    packs: Iterable[Pack] = (),
    trays: Iterable[Tray] = (),
    procedures: Iterable[Procedure] = (),
    staff: Iterable[StaffMember] = (),
    **settings: object,
) -> Site:
    """A site with these card lines; things that they speak of and that are not given are made plain."""
    lines = tuple(lines)
    catalogue = {one.id: one for one in items}
    kits = {one.id: one for one in packs}
    kinds = {one.id: one for one in trays}
    for one in lines:
        if one.kind is ThingKind.ITEM:
            catalogue.setdefault(one.thing, item(one.thing))
        elif one.kind is ThingKind.PACK:
            kits.setdefault(one.thing, pack(one.thing))
        else:
            kinds.setdefault(one.thing, tray(one.thing))
    for held in [content for kit in kits.values() for content in kit.lines]:
        catalogue.setdefault(held.item, item(held.item))
    known = {p: Procedure(id=p, name=p) for p in {one.procedure for one in lines} if p}
    known |= {one.id: one for one in procedures}
    return Site(
        settings=utc_settings(**settings),
        card_lines=lines,
        items=catalogue,
        packs=kits,
        trays=kinds,
        procedures=known,
        staff={one.id: one for one in staff},
    )


def operation(*procedures: str, **changes: object) -> Case:
    """A case of surgeon S04 at 07:30, of procedure P1 unless others are named."""
    fields: dict[str, object] = {"surgeon": SURGEON, "procedures": procedures or ("P1",)}
    return case("C1", "07:30", 90, "OR 1", **(fields | changes))


def on_day(text: str, **changes: object) -> Case:
    return operation(day=date.fromisoformat(text), **changes)


def amounts(needs: CaseNeeds) -> dict[str, str]:
    """What the list holds, as ``{"gown": "4/1"}``; a side or person is named after the thing."""
    found = {}
    for need in needs.needs:
        name = " ".join(part for part in (need.thing, need.side or "", need.person) if part)
        assert name not in found, f"{name} stands twice on the list"
        found[name] = f"{need.open}/{need.hold}"
    return found


def listed(lines: Iterable[CardLine], of: Case | None = None, **site: object) -> dict[str, str]:
    """What a case's list holds when nothing stops it."""
    needs = resolve_case(house(lines, **site), of or operation())  # type: ignore[arg-type]
    assert not needs.stopped, needs.stopped
    return amounts(needs)


def stops(lines: Iterable[CardLine], of: Case | None = None, **site: object) -> list[str]:
    """The kinds of the problems that stop a case."""
    needs = resolve_case(house(lines, **site), of or operation())  # type: ignore[arg-type]
    assert not needs.stopped or not needs.needs
    return [problem.kind for problem in needs.stopped]


def notices(lines: Iterable[CardLine], of: Case | None = None, **site: object) -> list[str]:
    """The kinds of the problems that leave the list standing."""
    needs = resolve_case(house(lines, **site), of or operation())  # type: ignore[arg-type]
    assert not needs.stopped, needs.stopped
    return [problem.kind for problem in needs.notices]
