"""Procedures and preference cards: base lines, surgeons' tastes and the hand-written lines."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache
from random import Random

from benchmarks.scenario.items import item_number
from benchmarks.scenario.lists import Asked, Listed, Row, read_list, split, split_asked
from benchmarks.scenario.people import operating
from benchmarks.scenario.sizes import TOMORROW, Size

NOTES = (
    "Only on request",
    "Ask before opening",
    "On the back table",
    "For closure",
    "Second one only if long",
    "Keep with the stand",
)
OFF_HAND = (
    "specimen/120 mL",
    "medlabels/medicine cups",
    "bowl/graduate 1 L",
    "hypo/22 gauge",
    "tip-clean/with adhesive",
)


@dataclass(frozen=True, slots=True)
class Card:
    """The base card of a procedure: trays and items, each once with its greatest quantities."""

    procedure: Listed
    trays: tuple[Asked, ...]
    items: tuple[Asked, ...]


def make_procedures() -> list[Row]:
    """The rows of Procedures."""
    columns = ("procedure", "name", "service", "pack")
    return [{column: one[column] for column in columns} for one in read_list("procedures")]


@cache
def base_cards() -> dict[str, Card]:
    """The base card of each procedure."""
    profiles = {one["profile"]: one["lines"] for one in read_list("profiles")}
    cards = {}
    for one in read_list("procedures"):
        asked: dict[str, Asked] = {}
        for text in (*(profiles[name] for name in split(one["profiles"])), one["extras"]):
            for more in split_asked(text):
                had = asked.get(more.thing, more)
                asked[more.thing] = Asked(more.thing, max(had.open, more.open), max(had.hold, more.hold))
        cards[one["procedure"]] = Card(one, split_asked(one["trays"]), tuple(asked.values()))
    return cards


def make_cards(size: Size, rng: Random) -> list[Row]:
    """The rows of Cards."""
    rows = [row for card in base_cards().values() for row in _base_lines(card)]
    for surgeon, service in operating(size):
        for card in base_cards().values():
            if card.procedure["service"] == service:
                rows += _tastes(rng, card, surgeon, size.tastes)
    return rows + [_house_line(one) for one in read_list("house")]


def _base_lines(card: Card) -> Iterator[Row]:
    name = card.procedure["procedure"]
    for tray in card.trays:
        yield _line(name, "every", "tray", tray)
    for item in card.items:
        counted = "per procedure" if item.thing.startswith(("lap-sponge", "specimen")) else "per case"
        yield _line(name, "every", "item", item) | {"counted": counted}


def _line(procedure: str, surgeon: str, kind: str, asked: Asked) -> Row:
    return {
        "procedure": procedure,
        "surgeon": surgeon,
        "change": "add",
        "kind": kind,
        "thing": item_number(asked.thing) if kind == "item" else asked.thing,
        "open": asked.open,
        "hold": asked.hold,
        "counted": "per case",
        "approved": True,
    }


def _tastes(rng: Random, card: Card, surgeon: str, count: int) -> list[Row]:
    """One surgeon's lines for one procedure: swaps and other quantities, a removal, and additions."""
    name = card.procedure["procedure"]
    spoken_for = _spoken_for(name)
    there = {one.thing: one for one in card.items}
    swaps = [(a, b) for a, b in _swaps(card.procedure["service"]) if a in there and b not in there]
    swaps = [pair for pair in swaps if not spoken_for & set(pair)]
    swaps = _once_each(rng.sample(swaps, len(swaps)))[: max(1, count // 6)]
    rows = [_swap(name, surgeon, there[a], b) for a, b in swaps]
    changed = {thing for pair in swaps for thing in pair} | spoken_for
    removable = [thing for thing in OFF_HAND if thing in there and thing not in changed]
    if removable and rng.random() < 0.6:
        gone = rng.choice(removable)
        rows.append(_line(name, surgeon, "item", Asked(gone, 0, 0)) | {"change": "remove"})
        changed.add(gone)
    more = [one for one in there.values() if one.open and one.thing not in changed and _is_counted(one.thing)]
    for one in rng.sample(more, min(len(more), count // 6)):
        amounts = Asked(one.thing, one.open + rng.choice((0, 1, 1, 2)), one.hold + 1)
        rows.append(_line(name, surgeon, "item", amounts) | {"change": "replace"})
    pool = [one for one in _adds(card.procedure["service"]) if one.thing not in there.keys() | changed]
    rows += [_line(name, surgeon, "item", one) for one in rng.sample(pool, min(len(pool), count - len(rows)))]
    return [_with_papers(rng, row) for row in rows]


def _is_counted(thing: str) -> bool:
    return not thing.startswith(("equip", "posn", "med/", "lens", "knee-imp", "hip-imp", "spine-imp"))


def _once_each(pairs: list[tuple[str, str]]) -> list[tuple[str, str]]:
    seen: set[str] = set()
    kept = []
    for pair in pairs:
        if not seen & set(pair):
            kept.append(pair)
            seen |= set(pair)
    return kept


def _swap(procedure: str, surgeon: str, old: Asked, new: str) -> Row:
    line = _line(procedure, surgeon, "item", Asked(new, old.open, old.hold))
    return line | {"change": "replace", "instead of": item_number(old.thing)}


def _with_papers(rng: Random, row: Row) -> Row:
    """The line with a note, a date or a missing approval, now and then."""
    begins: date | None = None
    if rng.random() < 0.25:
        begins = TOMORROW - timedelta(days=rng.randrange(20, 900))
    row |= {"from": begins, "note": rng.choice(NOTES) if rng.random() < 0.1 else ""}
    return row | ({"approved": False} if rng.random() < 0.015 else {})


@cache
def _swaps(service: str) -> tuple[tuple[str, str], ...]:
    pairs = []
    for one in read_list("tastes"):
        if one["service"] in (service, "every"):
            pairs += [(a.strip(), b.strip()) for a, b in (part.split(">") for part in split(one["swaps"]))]
    return tuple(pairs)


@cache
def _adds(service: str) -> tuple[Asked, ...]:
    chosen: dict[str, Asked] = {}
    for one in read_list("tastes"):
        if one["service"] in (service, "every"):
            chosen |= {asked.thing: asked for asked in split_asked(one["adds"])}
    return tuple(chosen.values())


@cache
def _spoken_for(procedure: str) -> frozenset[str]:
    """What the hand-written lines speak of on that card, so that no taste speaks of it as well."""
    named = [one for one in read_list("house") if one["procedure"] in (procedure, "every")]
    return frozenset(one[column] for one in named for column in ("thing", "instead of"))


def _house_line(one: Listed) -> Row:
    as_item = one["kind"] == "item"
    return dict(one) | {
        "thing": item_number(one["thing"]) if as_item else one["thing"],
        "instead of": item_number(one["instead of"]) if as_item and one["instead of"] else one["instead of"],
        "open": int(one["open"]),
        "hold": int(one["hold"]),
        "from": date.fromisoformat(one["from"]) if one["from"] else None,
        "until": date.fromisoformat(one["until"]) if one["until"] else None,
        "approved": one["approved"] == "yes",
        "only if": split(one["only if"]),
    }
