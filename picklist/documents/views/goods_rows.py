"""Packs, sundries, peel packs, gloves and gowns: a row for each lot to take from a place."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import groupby
from typing import TypeVar

from picklist import wording
from picklist.documents.views.lookup import Lookup
from picklist.grouping import grouped
from picklist.letters import natural_key
from picklist.model.needs import Need, ReasonKind
from picklist.model.plan import Cart, SundryLine
from picklist.model.supply import Pick

NOT_NAMED = "No area recorded"
PIECE = "each"
IN_ROOM = "in the room with the case"
R = TypeVar("R")


@dataclass(frozen=True, slots=True, kw_only=True)
class GoodsRow:
    """Take ``open`` and ``hold`` of a lot from a place; or ``short`` says what cannot be had there."""

    place: str
    name: str
    item: str
    unit: str
    lot: str
    expiry: str
    open: str
    hold: str
    note: str
    short: str = ""
    person: str = ""
    mark: str = ""  # what a revision changes in this line


@dataclass(frozen=True, slots=True, kw_only=True)
class GoodsGroup:
    """Rows under one heading: an area of the store, or a person at the table."""

    title: str
    rows: tuple[GoodsRow, ...]
    note: str = ""  # what of a person's lines is in the pack already


@dataclass(frozen=True, slots=True, kw_only=True)
class PackBlock:
    """A custom pack to take, and what it already holds."""

    rows: tuple[GoodsRow, ...]
    holds: tuple[str, ...]


def walking_groups(found: Lookup, lines: tuple[SundryLine, ...]) -> tuple[GoodsGroup, ...]:
    """The rows of some lines in walking order, under the areas that the walk passes."""
    rows = [(place, row) for line in lines for place, row in _rows(found, line)]
    rows.sort(key=lambda pair: (found.walk_key(pair[0]), natural_key(pair[1].name), *_last(pair[1])))
    return tuple(GoodsGroup(title=area, rows=some) for area, some in by_area(found, rows))


def _last(row: GoodsRow) -> tuple[bool, str]:
    """What is to take first, by lot; what cannot be had after it."""
    return (bool(row.short), row.lot)


def by_area(found: Lookup, rows: list[tuple[str, R]]) -> list[tuple[str, tuple[R, ...]]]:
    """Rows in walking order, cut where the area changes.

    Without titles where no area is named, or where the walk goes to and fro between areas, so that
    titles would only take room.
    """
    grouped = groupby(rows, key=lambda pair: found.area(pair[0]))
    areas = [(area, tuple(row for _, row in pairs)) for area, pairs in grouped]
    visited = [area for area, _ in areas]
    if not any(visited) or len(set(visited)) < len(visited):
        return [("", tuple(row for _, some in areas for row in some))] if areas else []
    return [(area or NOT_NAMED, some) for area, some in areas]


def area_by_area(found: Lookup, rows: list[tuple[str, R]]) -> list[tuple[str, tuple[R, ...]]]:
    """Rows in walking order within each area; the areas come in the order in which the walk first reaches them.

    Without titles where no area is named.
    """
    areas = grouped((found.area(place), row) for place, row in sorted(rows, key=lambda pair: found.walk_key(pair[0])))
    if not any(areas):
        return [("", tuple(row for some in areas.values() for row in some))] if areas else []
    return [(area or NOT_NAMED, tuple(some)) for area, some in areas.items()]


def in_walking_order(found: Lookup, lines: tuple[SundryLine, ...]) -> tuple[GoodsRow, ...]:
    """The same rows without their areas."""
    return tuple(row for group in walking_groups(found, lines) for row in group.rows)


def by_person(found: Lookup, cart: Cart) -> tuple[GoodsGroup, ...]:
    """Gloves and gowns under whom they are for, the surgeon first, then in the plan's order."""
    people = dict.fromkeys(line.need.person for line in cart.people)
    order = sorted(people, key=lambda person: person != cart.case.surgeon)
    return tuple(
        GoodsGroup(
            title=_person(found, cart, person),
            rows=tuple(_rows_of(found, cart, person)),
            note=_worn_from_pack(cart, person),
        )
        for person in order
    )


def _worn_from_pack(cart: Cart, person: str) -> str:
    """What this person wears that the pack holds, so that nobody looks for it on a shelf."""
    worn = [one for one in cart.needs.dropped if person and one.person == person]
    names = [one.name for one in worn if one.reasons[-1].kind is ReasonKind.IN_PACK]
    return f"in the pack: {wording.listed(names)}" if names else ""


def _person(found: Lookup, cart: Cart, person: str) -> str:
    member = found.staff.get(person)
    if member:
        return f"{member.name}, {member.role}"
    if person == cart.case.surgeon:
        return f"{cart.surgeon_name}, surgeon"
    return person or "No person recorded"


def _rows_of(found: Lookup, cart: Cart, person: str) -> list[GoodsRow]:
    return [row for line in cart.people if line.need.person == person for _, row in _rows(found, line)]


def pack_blocks(found: Lookup, cart: Cart) -> tuple[PackBlock, ...]:
    """The cart's packs; the contents stand with the first, from which they were taken off."""
    holds = tuple(f"{one.quantity} {one.name}" for one in cart.needs.pack_contents)
    blocks = []
    for number, line in enumerate(cart.packs):
        rows = tuple(row for _, row in _rows(found, line))
        blocks.append(PackBlock(rows=rows, holds=holds if number == 0 else ()))
    return tuple(blocks)


def _rows(found: Lookup, line: SundryLine) -> list[tuple[str, GoodsRow]]:
    rows = [(pick.place, _taken(line, pick)) for pick in line.picks]
    if line.is_short:
        place = line.picks[-1].place if line.picks else found.item_places.get(line.need.thing, "")
        rows.append((place, _short(line, place)))
    if not rows and (line.need.open or line.need.hold):
        rows.append((place := found.item_places.get(line.need.thing, ""), _taken_along(line, place)))
    return rows


def _taken(line: SundryLine, pick: Pick) -> GoodsRow:
    return GoodsRow(
        place=pick.place or wording.NONE,
        name=line.need.name,
        item=line.need.thing,
        unit=unit_word(line.unit),
        lot=pick.lot or wording.NONE,
        expiry=wording.expiry(pick.expiry),
        open=wording.quantity(pick.open),
        hold=wording.quantity(pick.hold),
        note="; ".join(part for part in (wording.check_expiry(pick.expiry), remark(line.need)) if part),
        person=pick.person or line.need.person,
    )


def _short(line: SundryLine, place: str) -> GoodsRow:
    return GoodsRow(
        place=place or wording.NONE,
        name=line.need.name,
        item=line.need.thing,
        unit=unit_word(line.unit),
        lot=wording.NONE,
        expiry=wording.NONE,
        open=wording.NONE,
        hold=wording.NONE,
        note="",
        short=wording.open_and_hold(line.short_open, line.short_hold),
    )


def _taken_along(line: SundryLine, place: str) -> GoodsRow:
    """What a running case has, from lots that no list names."""
    return replace(
        _short(line, place),
        open=wording.quantity(line.need.open),
        hold=wording.quantity(line.need.hold),
        note="; ".join(part for part in (IN_ROOM, remark(line.need)) if part),
        short="",
    )


def unit_word(unit: str) -> str:
    """What one is, where it is not simply one piece."""
    return "" if unit.casefold() == PIECE else unit


def remark(need: Need) -> str:
    """What must be said beside a line: side, latex swap, the card's own note."""
    swaps = [reason.text for reason in need.reasons if reason.kind is ReasonKind.LATEX_SWAP]
    return "; ".join(part for part in (wording.small_side(need.side), *swaps, need.note) if part)
