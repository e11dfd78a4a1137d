"""An item by whatever names it: its number, its GTIN, or the label of its maker."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date

from picklist.labels.gs1 import has_letters_swapped
from picklist.labels.gtin import other_package, same_gtin
from picklist.labels.hibc import primary_of, same_product
from picklist.labels.label import Label, LabelError
from picklist.labels.reading import read_label
from picklist.model.built import TakenItem
from picklist.model.catalogue import Item
from picklist.model.site import Site
from picklist.problems import Problem, Severity, Where
from picklist.tables.nearest import Candidates
from picklist.tables.private import may_be_quoted

Found = tuple[TakenItem | None, Problem | None]


def spelled(text: str, known: Collection[str]) -> str:
    """An id as the tables spell it; empty where none, or more than one, is the same but for its letters' case."""
    if text in known:
        return text
    found = [one for one in known if one.casefold() == text.casefold()]
    return found[0] if len(found) == 1 else ""


def thing_id(text: str, site: Site) -> str:
    """The number of an item or a pack as it is spelled in the tables; empty when there is none."""
    return spelled(text, site.items) or spelled(text, site.packs)


def find_item(text: str, site: Site, today: date, where: Where) -> Found:
    """One of an item by a text, with lot and expiry where a label names them; else what is wrong with the text."""
    thing = thing_id(text, site)
    if thing:
        return TakenItem(item=thing, quantity=1, where=where), None
    try:
        label = read_label(text, today)
    except LabelError as error:
        return None, _problem("unreadable label", where, f"this label cannot be read: {error}")
    if label is None:
        near = Candidates((*site.sets, *site.items, *site.packs)).nearest(text)
        return None, _problem("unknown scan", where, "this is no cart, set, item or word that is known", text, near)
    item, problem = _labelled(label, site, where)
    return (_with_lot(item, label, text, site, where) if item else None), problem


def _labelled(label: Label, site: Site, where: Where) -> tuple[Item | None, Problem | None]:
    """The one item that a label names; a package of another size is said, and is no item."""
    if not label.names_item:
        return None, _problem("label without an item", where, "this label does not name an item")
    named = [item for item in site.items.values() if _is(label, item)]
    others = [item for item in site.items.values() if _is_package(label, item)]
    if len(named) == 1:
        return named[0], None
    if not named and len(others) == 1:
        [item] = others
        what = "a box of" if _is_larger(label, item) else "a smaller package of"
        said = f"this is {what} {item.id}, {item.name}, not the package that Items names: scan such a package, or"
        return None, _problem("other package", where, f"{said} {item.id} and TIMES with how many there are")
    kind, number = ("unknown gtin", "GTIN") if label.gtin else ("unknown HIBC code", "HIBC code")
    many = f"{len(named) or 'no'} item{'' if len(named) == 1 else 's'}"
    what = f"this {number} belongs to {many} of the catalogue"
    return None, _problem(kind, where, what, label.gtin or label.hibc, tuple(item.id for item in named))


def _hibc(item: Item) -> str:
    """An item's HIBC code, bare; empty for one that cannot be, which the checks report."""
    try:
        return primary_of(item.hibc) if item.hibc else ""
    except LabelError:
        return ""


def _is(label: Label, item: Item) -> bool:
    return same_gtin(item.gtin, label.gtin) if label.gtin else label.hibc == _hibc(item)


def _is_package(label: Label, item: Item) -> bool:
    if label.gtin:
        return item.gtin.isdigit() and other_package(label.gtin, item.gtin)
    return same_product(label.hibc, _hibc(item))


def _is_larger(label: Label, item: Item) -> bool:
    """Whether the label's package holds more: the digit of the level grows (for GTINs 0 is one piece)."""
    if label.gtin:
        return label.gtin[0] > item.gtin.zfill(14)[0]
    return label.hibc[-1] > _hibc(item)[-1]


def _with_lot(item: Item, label: Label, text: str, site: Site, where: Where) -> TakenItem:
    """An item with its lot as the tables spell it where the scanner's letters came the wrong way round.

    Capital and small letters of a lot are not the same (GS1 General Specifications, AI 10), so that it is
    read anew only where the mark of the symbol before it came in the wrong letters too. A label without
    an expiry has that of its lot in the tables.
    """
    lots = {lot.lot: lot for lot in site.lots if lot.item == item.id}
    lot = (spelled(label.lot, lots) or label.lot) if has_letters_swapped(text) else label.lot
    known = lots.get(lot)
    expiry = label.expiry or (known.expiry if known and isinstance(known.expiry, date) else None)
    return TakenItem(item=item.id, quantity=1, lot=lot, expiry=expiry, where=where)


def _problem(kind: str, where: Where, message: str, value: str = "", nearest: tuple[str, ...] = ()) -> Problem:
    value = value if may_be_quoted(value, nearest) else ""
    return Problem(kind=kind, severity=Severity.TO_MEND, where=where, message=message, value=value, nearest=nearest)
