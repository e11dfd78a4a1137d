"""Surgeons who could share a card, and trays that always come together."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from itertools import combinations

from picklist.model.cards import ThingKind
from picklist.model.site import Site
from picklist.upkeep.card_faults import cards_of
from picklist.upkeep.card_rows import CardBook, lay_card, open_book
from picklist.upkeep.owners import Owner, owner_name
from picklist.upkeep.proposals import card_name
from picklist.upkeep.slots import RowKey, RowValue, same_want, thing_name, want_text

NEAREST = 10
LEAST_CARDS = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """A slot in which two cards differ, with what each wants."""

    slot: RowKey
    one: RowValue | None
    other: RowValue | None


@dataclass(frozen=True, slots=True, kw_only=True)
class NearCards:
    """Two surgeons' cards of one procedure, how many lines they have in common, and what differs."""

    procedure: str
    one: str
    other: str
    common: int
    differences: tuple[Difference, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TraysTogether:
    """Trays that are asked for on exactly the same cards, so that they could be one tray."""

    trays: tuple[str, ...]
    cards: tuple[tuple[str, str], ...]  # (procedure, surgeon or "" for the base card)


def find_near_cards(site: Site, day: date, *, count: int = NEAREST, most: int | None = None) -> tuple[NearCards, ...]:
    """The ``count`` pairs of surgeons whose cards of one procedure differ least, the nearest first.

    ``most``: leave out pairs that differ in more rows than that.
    """
    book = open_book(site)
    by_procedure: dict[str, list[tuple[str, dict[RowKey, RowValue]]]] = {}
    for owner, procedure in cards_of(site):
        if owner.surgeon:
            by_procedure.setdefault(procedure, []).append((owner.surgeon, _wants(book, owner, procedure, day)))
    found = []
    for procedure, cards in by_procedure.items():
        for (one, mine), (other, theirs) in combinations(sorted(cards, key=lambda card: card[0]), 2):
            differences = _differences(mine, theirs)
            if most is None or len(differences) <= most:
                common = len(mine.keys() | theirs.keys()) - len(differences)
                found.append(
                    NearCards(procedure=procedure, one=one, other=other, common=common, differences=differences)
                )
    found.sort(key=lambda pair: (len(pair.differences), pair.procedure, pair.one, pair.other))
    return tuple(found[:count])


def find_trays_together(site: Site, day: date, *, least: int = LEAST_CARDS) -> tuple[TraysTogether, ...]:
    """Groups of trays asked for on the same cards, all of them and no others, on ``least`` cards or more.

    Cards are base cards and surgeons' cards as resolved; trays on the most cards come first.
    """
    book = open_book(site)
    cards: dict[str, list[tuple[str, str]]] = {}
    for owner, procedure in cards_of(site):
        wants = _wants(book, owner, procedure, day).values()
        for tray in sorted({want.thing for want in wants if want.kind is ThingKind.TRAY}):
            cards.setdefault(tray, []).append((procedure, owner.surgeon))
    groups: dict[tuple[tuple[str, str], ...], list[str]] = {}
    for tray, on in cards.items():
        groups.setdefault(tuple(sorted(on)), []).append(tray)
    found = [
        TraysTogether(trays=tuple(sorted(trays)), cards=on)
        for on, trays in groups.items()
        if len(trays) > 1 and len(on) >= least
    ]
    return tuple(sorted(found, key=lambda group: (-len(group.cards), group.trays)))


def describe_near_cards(site: Site, pairs: Iterable[NearCards]) -> tuple[str, ...]:
    """Pairs of near cards in words, with what differs."""
    lines = []
    for pair in pairs:
        names = " and ".join(owner_name(site, Owner(surgeon=one)) for one in (pair.one, pair.other))
        count = len(pair.differences)
        lines.append(f"{card_name(site, pair.procedure)}: {names} differ in {count} of {pair.common + count} lines")
        lines += [
            f"  {pair.one}: {want_text(site, one.one)}; {pair.other}: {want_text(site, one.other)}"
            for one in pair.differences
        ]
    return tuple(lines)


def describe_trays_together(site: Site, groups: Iterable[TraysTogether]) -> tuple[str, ...]:
    """Groups of trays in words."""
    return tuple(
        f"always together on {len(group.cards)} cards: "
        + ", ".join(f"{thing_name(site, ThingKind.TRAY, tray)} ({tray})" for tray in group.trays)
        for group in groups
    )


def _wants(book: CardBook, owner: Owner, procedure: str, day: date) -> dict[RowKey, RowValue]:
    """What a card wants by slot of the thing wanted, so that two ways of saying it are one."""
    found: dict[RowKey, RowValue] = {}
    for row in lay_card(book, owner, procedure, day):
        if row.want:
            slot = RowKey(kind=row.want.kind, thing=row.want.thing, side=row.slot.side, only_if=row.slot.only_if)
            found[slot] = row.want
    return found


def _differences(mine: dict[RowKey, RowValue], theirs: dict[RowKey, RowValue]) -> tuple[Difference, ...]:
    return tuple(
        Difference(slot=slot, one=mine.get(slot), other=theirs.get(slot))
        for slot in dict.fromkeys((*mine, *theirs))
        if not same_want(mine.get(slot), theirs.get(slot))
    )
