"""Lots on the shelves: enough for the days ahead, but for what was written out by hand."""

from __future__ import annotations

from collections import Counter, defaultdict
from datetime import date, timedelta
from random import Random

from benchmarks.scenario.cards import base_cards
from benchmarks.scenario.items import item_keys, item_number, item_places, pack_place
from benchmarks.scenario.lists import Row, read_list
from benchmarks.scenario.sizes import TOMORROW, Size

UNSHELVED = frozenset({"equipment", "positioning", "medicine", "solution", "implant"})
FLOOR = 14


def make_lots(size: Size, rng: Random, cases: list[Row], cards: list[Row]) -> list[Row]:
    """The rows of Lots."""
    by_hand = read_list("lots") if size.scenes else ()
    told = {one["item"] for one in by_hand}
    wanted = _wanted(cases, cards)
    classes = {one["family"]: one["class"] for one in read_list("families")}
    units_of = {one["family"]: one["unit"] for one in read_list("families")}
    rows: list[Row] = []
    for key in item_keys():
        if classes[key.partition("/")[0]] not in UNSHELVED and key not in told:
            quantity = round(1.3 * wanted[item_number(key)]) + rng.randrange(FLOOR, 3 * FLOOR)
            rows += _split_lots(rng, size.lots, item_number(key), item_places()[key], quantity)
    for position, pack in enumerate(read_list("packs")):
        if pack["pack"] not in told:
            quantity = wanted[pack["pack"]] + rng.randrange(4, 12)
            rows += _split_lots(rng, size.lots, pack["pack"], pack_place(position), quantity)
    units = {item_number(key): units_of[key.partition("/")[0]] for key in item_keys()}
    return [row | {"unit": units.get(str(row["item"]), "")} for row in (*rows, *map(_by_hand, by_hand))]


def _wanted(cases: list[Row], cards: list[Row]) -> Counter[str]:
    """A stock clerk's guess of what the days ahead want, by item number or pack; gloves by a thumb's rule."""
    lines = _by_owner(cards)
    wanted: Counter[str] = Counter()
    for case in cases:
        names, surgeon = case["procedures"], str(case["surgeon"])
        assert isinstance(names, tuple)
        for name in names:
            wanted[base_cards()[name].procedure["pack"]] += 1
            for owner in ((name, "every"), (name, surgeon), ("every", surgeon), ("every", "every")):
                for thing, quantity in lines[owner]:
                    wanted[thing] += quantity
    for key in item_keys():
        if key.startswith(("outer", "under", "gown")):
            wanted[item_number(key)] += 2 * len(cases)
    return wanted


def _by_owner(cards: list[Row]) -> dict[tuple[str, str], list[tuple[str, int]]]:
    lines: dict[tuple[str, str], list[tuple[str, int]]] = defaultdict(list)
    for row in cards:
        quantity = int(str(row["open"])) + int(str(row["hold"]))
        lines[str(row["procedure"]), str(row["surgeon"])].append((str(row["thing"]), quantity))
    return lines


def _split_lots(rng: Random, most: int, item: str, place: str, quantity: int) -> list[Row]:
    groups = rng.randint(1, most)
    first = quantity if groups == 1 else rng.randrange(1, quantity)
    amounts = [first, quantity - first][:groups] if groups > 1 else [quantity]
    rows: list[Row] = []
    for amount in amounts:
        day = TOMORROW + timedelta(days=rng.randrange(60, 1300))
        rows.append(
            {
                "item": item,
                "lot": f"L{rng.randrange(10000, 99999)}{rng.choice('ABCDEFGH')}{len(rows) + 1}",
                "quantity": amount,
                "expiry": _month(day) if rng.random() < 0.5 else day,
                "place": place,
            }
        )
    return sorted(rows, key=lambda row: str(row["expiry"]))


def _month(day: date) -> str:
    return f"{day:%Y-%m}"


def _by_hand(one: dict[str, str]) -> Row:
    packs = [pack["pack"] for pack in read_list("packs")]
    is_pack = one["item"] in packs
    return {
        "item": one["item"] if is_pack else item_number(one["item"]),
        "lot": one["lot"],
        "quantity": int(one["quantity"]),
        "expiry": one["expiry"],
        "place": pack_place(packs.index(one["item"])) if is_pack else one["place"] or item_places()[one["item"]],
    }
