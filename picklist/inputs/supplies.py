"""Places, items, packs and lots."""

from __future__ import annotations

from collections import defaultdict

from picklist.inputs.desk import Causes, Desk, causes_of, fold, value
from picklist.model.catalogue import Item, ItemClass, Lot, Pack, PackLine, Place
from picklist.model.expiry import Expires, Expiry
from picklist.problems import Where
from picklist.tables.nearest import plain
from picklist.tables.rows import Row

VITAL_OF_ITEM = ("class", "size", "latex")


def read_places(desk: Desk) -> dict[str, Place]:
    """Storage places by id."""
    made: dict[str, Place] = {}
    for one, row, again in desk.keyed("Places", "place"):
        if again is not None:
            continue
        desk.index("Places").add(one)
        made[one] = Place(
            id=one,
            order=row.values.get("walking order"),
            area=value(row, "area", ""),
            building=value(row, "building", ""),
            where=row.where(),
        )
    desk.seal("Places")
    return made


def read_items(desk: Desk) -> dict[str, Item]:
    """Catalogue items by id. An item is broken when its class, size or latex cells cannot be trusted."""
    rows = []
    names = desk.index("Items")
    for one, row, again in desk.keyed("Items", "item"):
        if again is None:
            names.add(one, value(row, "name", ""))
            rows.append((one, row))
    desk.seal("Items")
    made: dict[str, Item] = {}
    broken: list[tuple[str, Causes]] = []
    for one, row in rows:
        twin, wrong = desk.refer(row, "latex-free twin", "Items")
        wrong = (*causes_of(row, *VITAL_OF_ITEM), *wrong)
        made[one] = _item(desk, one, row, twin)
        if wrong:
            broken.append((one, wrong))
    for one, wrong in broken:
        names.break_(one, wrong)
        del made[one]
    return made


def _item(desk: Desk, one: str, row: Row, twin: str) -> Item:
    substitutes, _ = desk.refer_all(row, "substitutes", "Items")
    return Item(
        id=one,
        name=value(row, "name", one),
        unit=value(row, "unit", "each"),
        item_class=ItemClass(value(row, "class", "supply")),
        size=value(row, "size", ""),
        place=_place(desk, row),
        latex=row.values.get("latex"),
        latex_free_twin=twin,
        gtin=value(row, "GTIN", ""),
        hibc=value(row, "HIBC", ""),
        keep_back=value(row, "keep back", 0),
        substitutes=substitutes,
        brought_by=value(row, "brought by", ""),
        retired=value(row, "retired", False),
        where=row.where(),
    )


def _place(desk: Desk, row: Row) -> str:
    """A place is only where to look: an unknown one is reported, and kept as typed."""
    found, _ = desk.refer(row, "place", "Places")
    return found or value(row, "place", "")


def read_packs(desk: Desk) -> dict[str, Pack]:
    """Custom packs by id. A row that cannot be read is left out: the loose item is then picked as well."""
    names = desk.index("Packs")
    spelled: dict[str, str] = {}
    titles: dict[str, str] = {}
    first: dict[str, Row] = {}
    lines: dict[str, dict[str, PackLine]] = {}
    unread: dict[str, list[Where]] = defaultdict(list)
    for row in desk.rows("Packs"):
        if not row.has("pack"):
            continue
        one = spelled.setdefault(fold(row.values["pack"]), row.values["pack"])
        first.setdefault(one, row)
        titles[one] = titles.get(one) or value(row, "name", "")
        if not _add_pack_line(desk, row, lines.setdefault(one, {})):
            unread[one].append(row.where())
    for one, title in titles.items():
        names.add(one, title)
    desk.seal("Packs")
    return {
        one: Pack(
            id=one,
            name=titles[one] or one,
            lines=tuple(lines[one].values()),
            unread=tuple(unread[one]),
            where=first[one].where(),
        )
        for one in first
    }


def _add_pack_line(desk: Desk, row: Row, lines: dict[str, PackLine]) -> bool:
    """Whether a row of a pack's contents could be read; of two rows for one item the first counts."""
    item, wrong = desk.refer(row, "item", "Items")
    if wrong or not row.has("quantity", "(row)"):
        return False
    if item in lines:
        desk.ledger.report(
            "doubled key",
            row.where("item"),
            f"'{item}' stands twice in the pack '{row.values['pack']}'; the first row counts",
            value=item,
            expected="each item once, with the whole quantity",
            related=(lines[item].where,),
        )
        return True
    lines[item] = PackLine(item=item, quantity=row.values["quantity"], where=row.where())
    return True


def read_lots(desk: Desk, items: dict[str, Item]) -> tuple[Lot, ...]:
    """Lots on the shelves; one with a cell that cannot be trusted is left out."""
    made: list[Lot] = []
    seen: dict[tuple[str, str, str], Row] = {}
    for row in desk.rows("Lots"):
        one, wrong = _stocked(desk, row)
        place = _place(desk, row)
        if wrong or not row.has("item", "lot", "quantity", "expiry", "(row)") or not _same_unit(desk, row, items, one):
            continue
        key = (one, fold(row.values["lot"]), fold(place))
        before = seen.setdefault(key, row)
        if before is not row:
            desk.doubled(before, row, "lot", f"{one}, lot {row.values['lot']}, {place}")
            continue
        made.append(
            Lot(
                item=one,
                lot=row.values["lot"],
                quantity=row.values["quantity"],
                expiry=_expiry(row),
                place=place,
                where=row.where(),
            )
        )
    return tuple(made)


def _expiry(row: Row) -> Expiry:
    found = row.values.get("expiry")
    return Expires(found) if isinstance(found, str) else found


def _stocked(desk: Desk, row: Row) -> tuple[str, Causes]:
    """The item or pack that a lot is of."""
    written = row.values.get("item")
    if written is not None:
        packs = desk.index("Packs")
        pack = packs.known.get(fold(written))
        if pack is not None:
            return pack, ()
        if packs.absent and fold(written) not in desk.index("Items").known:
            return "", packs.absent
    return desk.refer(row, "item", "Items")


def _same_unit(desk: Desk, row: Row, items: dict[str, Item], one: str) -> bool:
    counted = value(row, "unit", "")
    if not counted or one not in items or plain(counted) == plain(items[one].unit):
        return True
    desk.ledger.report(
        "unit mismatch",
        row.where("unit"),
        f"the lot was counted in '{counted}', but the item's unit is '{items[one].unit}'; the lot was left out",
        value=counted,
        expected=items[one].unit,
        related=(items[one].where,),
    )
    return False
