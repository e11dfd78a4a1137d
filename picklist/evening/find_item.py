"""An item by whatever names it: its number, its GTIN, or the label of its maker."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date

from picklist.labels.gs1 import has_letters_swapped
from picklist.labels.items import OTHER_PACKAGE, NoItemError, item_of
from picklist.labels.label import Label, LabelError
from picklist.labels.reading import read_label
from picklist.model.built import TakenItem
from picklist.model.site import Site
from picklist.problems import Problem, Severity, Where
from picklist.tables.nearest import Candidates
from picklist.tables.private import may_be_quoted

UNKNOWN = "unknown scan"  # the kind of a problem with a text that is neither an id nor a label
Found = tuple[TakenItem | None, Problem | None]


def spelled(text: str, known: Collection[str]) -> str:
    """An id as the tables spell it; empty where none, or more than one, is the same but for its letters' case."""
    if text in known:
        return text
    folded = text.casefold()
    found = [one for one in known if one.casefold() == folded]
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
        return None, _problem(UNKNOWN, where, "this is no cart, set, item or word that is known", text, near)
    try:
        one = item_of(label, site.items.values())
    except NoItemError as none:
        if none.kind == OTHER_PACKAGE:
            what_to_do = f"scan such a package, or {none.nearest[0]} and TIMES with how many there are"
            return None, _problem(none.kind, where, f"{none}: {what_to_do}")
        return None, _problem(none.kind, where, str(none), none.number, none.nearest)
    return _with_lot(one.id, label, text, site, where), None


def _with_lot(item: str, label: Label, text: str, site: Site, where: Where) -> TakenItem:
    """An item with its lot as the tables spell it where the scanner's letters came the wrong way round.

    Capital and small letters of a lot are not the same (GS1 General Specifications, AI 10), so that it is
    read anew only where the mark of the symbol before it came in the wrong letters too. A label without
    an expiry has that of its lot in the tables.
    """
    lots = {lot.lot: lot for lot in site.lots if lot.item == item}
    lot = (spelled(label.lot, lots) or label.lot) if has_letters_swapped(text) else label.lot
    known = lots.get(lot)
    expiry = label.expiry or (known.expiry if known and isinstance(known.expiry, date) else None)
    return TakenItem(item=item, quantity=1, lot=lot, expiry=expiry, serial=label.serial, where=where)


def _problem(kind: str, where: Where, message: str, value: str = "", nearest: tuple[str, ...] = ()) -> Problem:
    value = value if may_be_quoted(value, nearest) else ""
    return Problem(kind=kind, severity=Severity.TO_MEND, where=where, message=message, value=value, nearest=nearest)
