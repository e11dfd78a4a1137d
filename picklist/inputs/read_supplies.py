"""Places, items, packs and lots."""

from __future__ import annotations

from collections import defaultdict

from picklist.inputs.known_ids import Causes, fold
from picklist.inputs.site_reader import SiteReader, value
from picklist.labels.gs1 import looks_like_gs1, read_gs1
from picklist.labels.items import ItemsByLabel
from picklist.labels.label import LabelError
from picklist.model.catalogue import Item, Lot, Pack, PackLine, Place
from picklist.problems import Where
from picklist.tables.nearest import plain
from picklist.tables.rows import Row


def read_places(reader: SiteReader) -> dict[str, Place]:
    """Storage places by id."""
    return reader.by_id("Places", Place)


def read_items(reader: SiteReader) -> dict[str, Item]:
    """Catalogue items by id. An item is broken when its class, size or latex cells cannot be trusted."""
    made = reader.by_id("Items", Item, lambda _one, row: {"gtin": _gtin(reader, row)})
    reader.items_by_label = ItemsByLabel(made.values())
    return made


def _gtin(reader: SiteReader, row: Row) -> str:
    """The GTIN of an item; a label that was scanned into its cell says it too."""
    written: str = value(row, "GTIN", "")
    if not looks_like_gs1(written) or reader.ledger.today is None:
        return written
    try:
        return read_gs1(written, reader.ledger.today).gtin
    except LabelError as error:
        message = f"this label cannot be read: {error}"
        reader.ledger.report("unreadable label", row.where("GTIN"), message, expected="the GTIN, or the whole label")
        return ""


def read_packs(reader: SiteReader) -> dict[str, Pack]:
    """Custom packs by id. A row that cannot be read is left out: the loose item is then picked as well."""
    names = reader.index("Packs")
    spelled: dict[str, str] = {}
    titles: dict[str, str] = {}
    first: dict[str, Row] = {}
    lines: dict[str, dict[str, PackLine]] = {}
    unread: dict[str, list[Where]] = defaultdict(list)
    for row in reader.rows("Packs"):
        if not row.has("pack"):
            continue
        one = spelled.setdefault(fold(row.values["pack"]), row.values["pack"])
        first.setdefault(one, row)
        titles[one] = titles.get(one) or value(row, "name", "")
        if not _add_pack_line(reader, row, lines.setdefault(one, {})):
            unread[one].append(row.where())
    for one, title in titles.items():
        names.add(one, title)
    reader.seal("Packs")
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


def _add_pack_line(reader: SiteReader, row: Row, lines: dict[str, PackLine]) -> bool:
    """Whether a row of a pack's contents could be read; of two rows for one item the first counts."""
    fields, wrong = reader.fields(row, "Packs", PackLine)
    if wrong or not row.has("quantity"):
        return False
    line = PackLine(**fields)
    item = line.item
    if item in lines:
        message = f"'{item}' is in the pack '{row.values['pack']}' twice; the first row counts"
        reader.doubled(lines[item].where, row, "item", message, "each item once, with the whole quantity")
        return True
    lines[item] = line
    return True


def read_lots(reader: SiteReader, items: dict[str, Item]) -> tuple[Lot, ...]:
    """Lots on the shelves; one with a cell that cannot be trusted is left out."""
    made: list[Lot] = []
    seen: dict[tuple[str, str, str], Row] = {}
    for row in reader.rows("Lots"):
        one, wrong = _stocked(reader, row)
        wrong = wrong or reader.check_label(row, "item", items.get(one))
        fields, _ = reader.fields(row, "Lots", Lot, item=one)
        if (
            wrong
            or not row.has("item", "lot", "quantity", "expiry", "(row)")
            or not _same_unit(reader, row, items, one)
        ):
            continue
        lot = Lot(**{"place": "", **fields})
        before = seen.setdefault((one, fold(lot.lot), fold(lot.place)), row)
        if before is row:
            made.append(lot)
        else:
            message = f"'{one}, lot {lot.lot}, {lot.place}' is in two rows; the first counts"
            reader.doubled(before.where("lot"), row, "lot", message)
    return tuple(made)


def _stocked(reader: SiteReader, row: Row) -> tuple[str, Causes]:
    """The item or pack that a lot is of."""
    written = row.values.get("item")
    if written is not None:
        packs = reader.index("Packs")
        pack = packs.known.get(fold(written))
        if pack is not None:
            return pack, ()
        if packs.absent and fold(written) not in reader.index("Items").known:
            return "", packs.absent
    return reader.refer(row, "item", "Items")


def _same_unit(reader: SiteReader, row: Row, items: dict[str, Item], one: str) -> bool:
    counted = value(row, "unit", "")
    if not counted or one not in items or plain(counted) == plain(items[one].unit):
        return True
    unit, related = items[one].unit, (items[one].where,)
    message = f"the lot was not counted in the item's unit, which is '{unit}'; the lot was left out"
    reader.wrong(row, "unit", "unit mismatch", message, expected=unit, related=related)
    return False
