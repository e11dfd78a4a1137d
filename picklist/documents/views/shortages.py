"""What the shelves cannot give to every cart, and the trays that no set can serve."""

from __future__ import annotations

from dataclasses import dataclass

from picklist import wording
from picklist.documents.views.lookup import Lookup, in_order_of_completion
from picklist.documents.views.pick_list import may_stand_in
from picklist.documents.views.stamp import PageFoot, printing_of, stamp_for
from picklist.letters import natural_key
from picklist.model.supply import CaseShort, ItemShortage
from picklist.wording.say_conflicts import statement


@dataclass(frozen=True, slots=True, kw_only=True)
class Lacking:
    """One case that lacks some of it."""

    complete_by: str
    case: str
    missing: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ShortageRow:
    """One item short over the whole day."""

    name: str
    item: str
    wanted: str
    on_hand: str
    kept_back: str
    expired: str
    lacking: tuple[Lacking, ...]
    stand_in: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TrayShortage:
    """A tray on a cart that no set can serve."""

    complete_by: str
    case: str
    tray: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ShortagesView:
    """All that is short."""

    stamp: PageFoot
    title: str
    counts: str
    items: tuple[ShortageRow, ...]
    trays: tuple[TrayShortage, ...]


def shortages(found: Lookup) -> ShortagesView:
    """Items by the first cart that lacks them, then trays by the time of their carts."""
    ordered = sorted(found.plan.shortages, key=lambda one: (_first(found, one), natural_key(one.name)))
    items, trays = tuple(_row(found, one) for one in ordered), _trays(found)
    return ShortagesView(
        stamp=stamp_for(found.plan, printing_of(found.plan), found.clock),
        title=f"Shortages, {found.clock.day_text(found.day)}",
        counts=f"{wording.counted(len(items), 'item')} short, {wording.counted(len(trays), 'tray')} without a set",
        items=items,
        trays=trays,
    )


def _first(found: Lookup, shortage: ItemShortage) -> float:
    starts = [found.cases[one.case].start.timestamp() for one in shortage.lacking if one.case in found.cases]
    return min(starts, default=float("inf"))


def _row(found: Lookup, shortage: ItemShortage) -> ShortageRow:
    return ShortageRow(
        name=shortage.name,
        item=shortage.item,
        wanted=wording.quantity(shortage.wanted),
        on_hand=wording.quantity(shortage.on_hand),
        kept_back=wording.quantity(shortage.kept_back),
        expired=wording.quantity(shortage.expired),
        lacking=tuple(_lacking(found, one) for one in shortage.lacking),
        stand_in=may_stand_in(found, shortage.stand_ins),
    )


def _lacking(found: Lookup, one: CaseShort) -> Lacking:
    by_case = {cart.case.number: cart.complete_by for cart in found.plan.carts}
    return Lacking(
        complete_by=found.when(by_case.get(one.case)),
        case=found.case_in_room(one.case),
        missing=wording.open_and_hold(one.open, one.hold),
    )


def _trays(found: Lookup) -> tuple[TrayShortage, ...]:
    return tuple(
        TrayShortage(
            complete_by=found.when(cart.complete_by),
            case=found.case_in_room(cart.case.number),
            tray=line.name_with_side,
            why=" ".join(
                statement(found.conflicts[one], found.clock) for one in line.conflicts if one in found.conflicts
            ),
        )
        for cart in in_order_of_completion(found.plan.carts)
        for line in cart.trays
        if not line.set_id
    )
