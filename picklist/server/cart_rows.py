"""The rows of the form of a cart: what is on its list, and what is said of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from picklist import wording
from picklist.letters import natural_key
from picklist.model.built import BuiltCart
from picklist.model.plan import Cart, TrayLine
from picklist.tasks.cart_form import RowCells, RowKey, cells_of
from picklist.tasks.shown import Lookup

PLANNED, MISSING, SET = "planned", "missing", "set:"


@dataclass(frozen=True, slots=True, kw_only=True)
class TrayChoice:
    """A tray on the list and what may be said of it: the choices as sent and in words, and the one reported."""

    field: str
    tray: str
    name: str
    choices: tuple[tuple[str, str], ...]
    told: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemRow:
    """An item on the list with what was reported of it; ``stand_ins`` may take its place."""

    item: str
    name: str
    wanted: str
    most: int
    short: bool
    stand_ins: tuple[str, ...]
    told: RowCells
    reported: str  # who reported it missing, and when


def tray_field(key: RowKey) -> str:
    """The name of a tray's field in the form."""
    return f"tray-{key[1]}-{key[0]}"


def tray_row(found: Lookup, line: TrayLine, said: BuiltCart, facts: BuiltCart | None) -> TrayChoice:
    """A tray with its choices and what is said of it; ``facts`` knows whether a built cart waits for it."""
    key = line.key
    told = cells_of(said, key)
    choices = {PLANNED: f"as planned: {line.set_id}" if line.set_id else "none planned, none on the cart"}
    choices |= {f"{SET}{one}": about for one, about in _sets_that_may_serve(found, line)}
    awaited = next((t for t in (facts.to_come if facts else ()) if (t.tray, t.copy) == key), None)
    if awaited:
        choices[PLANNED] = f"still to come: {awaited.set_id}, expected {found.when(awaited.expected)}"
        choices[f"{SET}{awaited.set_id}"] = f"{awaited.set_id} arrived and is on the cart"
    if told.set_id:
        choices.setdefault(f"{SET}{told.set_id}", told.set_id)
    if line.set_id:
        choices[MISSING] = "did not arrive"
    value = f"{SET}{told.set_id}" if told.set_id else MISSING if told.missing else PLANNED
    return TrayChoice(
        field=tray_field(key),
        tray=line.need.thing,
        name=f"{line.name_with_side}{f' ({line.copy})' if line.copy > 1 else ''}",
        choices=tuple(choices.items()),
        told=value,
    )


def _sets_that_may_serve(found: Lookup, line: TrayLine) -> Iterator[tuple[str, str]]:
    """The sets of the tray, then those of its stand-ins, each with words that tell it apart."""
    wanted = line.need.thing
    for tray in found.plan.may_serve(wanted):
        for one in sorted((s for s in found.plan.sets if s.tray == tray), key=lambda s: natural_key(s.id)):
            side = f", {one.side.value}" if one.side else ""
            yield one.id, f"{one.id}{side}{f', {found.tray(tray)}' if tray != wanted else ''}"


def item_rows(found: Lookup, cart: Cart, said: BuiltCart, facts: BuiltCart | None) -> Iterator[ItemRow]:
    """The things on the list with what is said of each, and who reported it in ``facts``."""
    for item, lines in cart.goods_by_thing.items():
        opened, hold = sum(line.need.open for line in lines), sum(line.need.hold for line in lines)
        yield ItemRow(
            item=item,
            name=lines[0].need.name or found.item(item),
            wanted=wording.open_and_hold(opened, hold),
            most=opened + hold,
            short=any(line.is_short for line in lines),
            stand_ins=tuple(dict.fromkeys(one for line in lines for one, _ in line.stand_ins)),
            told=cells_of(said, (item, 0)),
            reported=_reported(found, item, facts),
        )


def _reported(found: Lookup, item: str, facts: BuiltCart | None) -> str:
    gone = [one for one in (facts.missing if facts else ()) if one.thing == item and not one.copy]
    who = dict.fromkeys(f"{one.by} {found.when(one.reported_at)}".strip() for one in gone if one.reported_at)
    return ", ".join(who)
