"""Packs, sundries, peel packs, gloves and gowns: a row for each lot to take from a place."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from itertools import groupby
from typing import TypeVar

from picklist import wording
from picklist.documents.views.finished_words import Group, View
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
G = TypeVar("G")


class GoodsRow(View):
    """Take ``open`` and ``hold`` of the lot of a pick from a place.

    Without a pick, ``short`` says what cannot be had there, or it is what a running case has, from lots that no list
    names. ``mark``: what a revision changes in this line.
    """

    def __init__(self, line: SundryLine, place: str, pick: Pick | None = None) -> None:
        need, is_short = line.need, pick is None and line.is_short
        self.place = place or wording.NONE
        self.name = need.name
        self.item = need.thing
        self.unit = unit_word(line.unit)
        self.lot = (pick.lot if pick else "") or wording.NONE
        self.expiry = wording.expiry(pick.expiry) if pick else wording.NONE
        taken = pick or need
        self.open = wording.NONE if is_short else wording.quantity(taken.open)
        self.hold = wording.NONE if is_short else wording.quantity(taken.hold)
        about = wording.check_expiry(pick.expiry) if pick else IN_ROOM
        self.note = "" if is_short else wording.joined(about, remark(need))
        self.short = wording.open_and_hold(line.short_open, line.short_hold) if is_short else ""
        self.person = pick.person or need.person if pick else ""
        self.mark = ""


class GoodsGroup(Group[GoodsRow]):
    """An area of the store, or a person at the table; ``note``: what of a person's lines is in the pack already."""

    def __init__(self, title: str, rows: Iterable[GoodsRow], note: str = "") -> None:
        super().__init__(title, rows)
        self.note = note


class PackBlock(View):
    """A custom pack to take, and what it already holds."""

    def __init__(self, rows: Iterable[GoodsRow], holds: Iterable[str]) -> None:
        self.rows = tuple(rows)
        self.holds = tuple(holds)


def walking_groups(found: Lookup, lines: tuple[SundryLine, ...]) -> tuple[GoodsGroup, ...]:
    """The rows of some lines in walking order, under the areas that the walk passes."""
    rows = [(place, row) for line in lines for place, row in _rows(found, line)]
    rows.sort(key=lambda pair: (found.walk_key(pair[0]), natural_key(pair[1].name), *_last(pair[1])))
    return by_area(found, rows, GoodsGroup)


def _last(row: GoodsRow) -> tuple[bool, str]:
    """What is to take first, by lot; what cannot be had after it."""
    return (bool(row.short), row.lot)


def by_area(found: Lookup, rows: list[tuple[str, R]], group: Callable[[str, Iterable[R]], G]) -> tuple[G, ...]:
    """Rows in walking order, cut where the area changes.

    Without titles where no area is named, or where the walk goes to and fro between areas, so that
    titles would only take room.
    """
    grouped = groupby(rows, key=lambda pair: found.area(pair[0]))
    areas = [(area, tuple(row for _, row in pairs)) for area, pairs in grouped]
    visited = [area for area, _ in areas]
    if not any(visited) or len(set(visited)) < len(visited):
        return (group("", (row for _, some in areas for row in some)),) if areas else ()
    return tuple(group(area or NOT_NAMED, some) for area, some in areas)


def area_by_area(found: Lookup, rows: list[tuple[str, R]], group: Callable[[str, Iterable[R]], G]) -> tuple[G, ...]:
    """Rows in walking order within each area; the areas come in the order in which the walk first reaches them.

    Without titles where no area is named.
    """
    areas = grouped((found.area(place), row) for place, row in sorted(rows, key=lambda pair: found.walk_key(pair[0])))
    if not any(areas):
        return (group("", (row for some in areas.values() for row in some)),) if areas else ()
    return tuple(group(area or NOT_NAMED, some) for area, some in areas.items())


def in_walking_order(found: Lookup, lines: tuple[SundryLine, ...]) -> tuple[GoodsRow, ...]:
    """The same rows without their areas."""
    return tuple(row for group in walking_groups(found, lines) for row in group.rows)


def by_person(found: Lookup, cart: Cart) -> tuple[GoodsGroup, ...]:
    """Gloves and gowns under whom they are for, the surgeon first, then in the plan's order."""
    people = dict.fromkeys(line.need.person for line in cart.people)
    order = sorted(people, key=lambda person: person != cart.case.surgeon)
    return tuple(
        GoodsGroup(_person(found, cart, person), _rows_of(found, cart, person), _worn_from_pack(cart, person))
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
    return tuple(
        PackBlock((row for _, row in _rows(found, line)), () if number else holds)
        for number, line in enumerate(cart.packs)
    )


def _rows(found: Lookup, line: SundryLine) -> list[tuple[str, GoodsRow]]:
    rows = [(pick.place, GoodsRow(line, pick.place, pick)) for pick in line.picks]
    if line.is_short or (not rows and (line.need.open or line.need.hold)):
        place = line.picks[-1].place if line.picks else found.item_places.get(line.need.thing, "")
        rows.append((place, GoodsRow(line, place)))
    return rows


def unit_word(unit: str) -> str:
    """What one is, where it is not simply one piece."""
    return "" if unit.casefold() == PIECE else unit


def remark(need: Need) -> str:
    """What must be said beside a line: side, latex swap, the card's own note."""
    swaps = [reason.text for reason in need.reasons if reason.kind is ReasonKind.LATEX_SWAP]
    return wording.joined(wording.small_side(need.side), *swaps, need.note)
