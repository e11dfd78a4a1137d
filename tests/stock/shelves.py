"""Short words for lots, needs and days in the stock tests. All data here is invented."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, timedelta

from picklist.model.cards import ThingKind
from picklist.model.catalogue import Item, ItemClass, Lot, Place
from picklist.model.expiry import Expires, Expiry
from picklist.model.needs import CaseNeeds, Need
from picklist.model.schedule import Case
from picklist.model.site import Site
from picklist.stock import StockResult, give_stock
from tests.builders import DAY, at, case, utc_settings


def lot(name: str, quantity: int, expires: str | date = "never", place: str = "A-1", item: str = "suture") -> Lot:
    """A lot that expires on a day (ISO) or never; an empty text is not recorded."""
    expiry: Expiry = None
    if expires:
        never = expires == Expires.NEVER
        expiry = Expires.NEVER if never else date.fromisoformat(expires) if isinstance(expires, str) else expires
    return Lot(item=item, lot=name, quantity=quantity, expiry=expiry, place=place)


def days_on(days: int) -> date:
    """The day so many days after the scenario's."""
    return DAY + timedelta(days=days)


def want(case_number: str, amounts: str, thing: str = "suture", person: str = "") -> Need:
    """``want("C1", "2/1")``: 2 open and 1 hold."""
    opened, held = (int(part) for part in amounts.split("/"))
    return Need(
        case=case_number,
        kind=ThingKind.ITEM,
        thing=thing,
        name=thing.capitalize(),
        open=opened,
        hold=held,
        item_class=ItemClass.SUPPLY,
        person=person,
    )


def on(number: str, start: str = "08:00", day: int = 0, **changes: object) -> Case:
    """A case so many days after the scenario's day."""
    return replace(case(number, start, 60, "OR 1", **changes), day=days_on(day), start=at(start, day))


def needs_of(needs: Iterable[Need]) -> list[CaseNeeds]:
    by_case: dict[str, list[Need]] = {}
    for need in needs:
        by_case.setdefault(need.case, []).append(need)
    return [CaseNeeds(case=number, needs=tuple(found)) for number, found in by_case.items()]


def give(
    lots: Iterable[Lot],
    cases: Iterable[Case],
    needs: Iterable[Need],
    *,
    items: Iterable[Item] = (),
    places: Iterable[Place] = (),
    **settings: object,
) -> StockResult:
    """What a site with these lots gives these cases."""
    site = site_with(lots, items=items, places=places, **settings)
    return give_stock(site, needs_of(needs), tuple(cases))


def site_with(
    lots: Iterable[Lot], *, items: Iterable[Item] = (), places: Iterable[Place] = (), **settings: object
) -> Site:
    """A site with these lots and a catalogue that holds the suture."""
    catalogue = {"suture": Item(id="suture", name="Suture")} | {one.id: one for one in items}
    return Site(
        settings=utc_settings(**settings),
        items=catalogue,
        lots=tuple(lots),
        places={place.id: place for place in places},
    )


def picked(result: StockResult) -> dict[str, str]:
    """What was picked: ``{"C1 L1": "2/1"}`` by case (and person) and lot."""
    found = {}
    for pick in result.picks:
        name = " ".join(part for part in (pick.case, pick.person, pick.lot) if part)
        assert name not in found, f"{name} was picked twice"
        found[name] = f"{pick.open}/{pick.hold}"
    return found


def lacking(result: StockResult) -> dict[str, str]:
    """What each case lacks of the one item that is short: ``{"C2": "1/0"}``."""
    if not result.shortages:
        return {}
    (shortage,) = result.shortages
    return {short.case: f"{short.open}/{short.hold}" for short in shortage.lacking}
