"""Items, custom packs and the places where they lie."""

from __future__ import annotations

from functools import cache

from benchmarks.scenario.lists import Row, read_list, split, split_asked

AREAS = {
    "A": "Core supply",
    "B": "Procedure supply",
    "C": "Special supply",
    "D": "Implant room",
    "P": "Custom packs",
    "S": "Sterile storage",
}
SHELVED = frozenset("ABCDS")
SIZED = frozenset({"outer glove", "under glove", "gown"})
SHELVES_IN_BAY = 12


@cache
def item_number(key: str) -> str:
    """The six-digit number of an item known by family and variant, as ``blade/10``."""
    family, _, variant = key.partition("/")
    listed = next(one for one in read_list("families") if one["family"] == family)
    position = split(listed["variants"], "|").index(variant) + 1
    return f"{listed['number']}{position:02d}"


def item_keys() -> tuple[str, ...]:
    """Family and variant of every item, in catalogue order."""
    return tuple(f"{one['family']}/{v}" for one in read_list("families") for v in split(one["variants"], "|"))


def make_items() -> list[Row]:
    """The rows of Items."""
    return [_item(family, variant) for family in read_list("families") for variant in split(family["variants"], "|")]


def _item(family: dict[str, str], variant: str) -> Row:
    key = f"{family['family']}/{variant}"
    number = item_number(key)
    return {
        "item": number,
        "name": family["name"].replace("{v}", variant),
        "unit": family["unit"],
        "class": family["class"],
        "size": variant if family["class"] in SIZED else "",
        "place": item_places().get(key, ""),
        "latex": bool(family["twin"]),
        "latex-free twin": item_number(f"{family['twin']}/{variant}") if family["twin"] else "",
        "GTIN": _gtin(number),
        "kept back": int(family["kept back"]),
        "stand-ins": tuple(item_number(other) for other in _stand_ins().get(key, ())),
        "brought by": family["brought by"],
        "retired": False,
    }


@cache
def _stand_ins() -> dict[str, tuple[str, ...]]:
    return {one["item"]: split(one["stand-ins"]) for one in read_list("stand_ins")}


def _gtin(number: str) -> str:
    """A GS1 number from the range for demonstrations and examples (prefix 952), so that it is nobody's."""
    body = f"952000{number}"
    total = sum(int(digit) * (3 if place % 2 else 1) for place, digit in enumerate(body))
    return f"{body}{-total % 10}"


@cache
def item_places() -> dict[str, str]:
    """The shelf of each item that has one: area, bay and shelf, as ``A-2-10``."""
    counted: dict[str, int] = {}
    places: dict[str, str] = {}
    area_of = {one["family"]: one["area"] for one in read_list("families")}
    for key in item_keys():
        area = area_of[key.partition("/")[0]]
        if area in SHELVED:
            position = counted.get(area, 0)
            counted[area] = position + 1
            places[key] = f"{area}-{position // SHELVES_IN_BAY + 1}-{position % SHELVES_IN_BAY + 1}"
    return places


def pack_place(position: int) -> str:
    """The shelf of the pack at that position of the list."""
    return f"P-1-{position + 1}"


def make_places() -> list[Row]:
    """The rows of Places: shelves of items, packs and sets in the order of the walk."""
    ids = [*dict.fromkeys(item_places().values()), *(pack_place(n) for n in range(len(read_list("packs"))))]
    ids += [f"T-{bay}-{shelf}" for bay in range(1, 11) for shelf in range(1, 9)]
    ids.sort(key=_in_walking_order)
    areas = AREAS | {"T": "Tray storage"}
    return [{"place": one, "walking order": 10 * n, "area": areas[one[0]]} for n, one in enumerate(ids, start=1)]


def _in_walking_order(place: str) -> tuple[str, int, int]:
    area, bay, shelf = place.split("-")
    return area, int(bay), int(shelf)


def make_packs() -> list[Row]:
    """The rows of Packs."""
    rows: list[Row] = []
    for pack in read_list("packs"):
        for position, asked in enumerate(split_asked(pack["contents"])):
            rows.append(
                {
                    "pack": pack["pack"],
                    "name": pack["name"] if position == 0 else "",
                    "item": item_number(asked.thing),
                    "quantity": asked.open,
                }
            )
    return rows
