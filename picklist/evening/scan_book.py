"""What a scan can mean: carts, sets and items by whatever a scanner reads off them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date

from picklist.evening.check_facts import listed_quantity, spelled
from picklist.evening.gs1 import Gs1Error, has_letters_swapped, is_gtin, looks_like_gs1, read_gs1
from picklist.model.built import TakenItem, read_cart_code
from picklist.model.plan import Cart, Plan, TrayLine
from picklist.model.site import Site
from picklist.problems import Problem, Severity, Where
from picklist.tables.nearest import Candidates
from picklist.tables.private import may_be_quoted


@dataclass(frozen=True, slots=True, kw_only=True)
class ScanBook:
    """Everything that may be scanned this evening. ``revisions`` gives the list that counts for each case."""

    plan: Plan
    site: Site
    revisions: Mapping[str, int]
    today: date

    def cart(self, case: str) -> Cart | None:
        """The cart of a case; letters may differ in case."""
        carts = {cart.case.number: cart for cart in self.plan.carts}
        return carts.get(spelled(case, carts))

    def opens(self, text: str) -> tuple[str, int] | None:
        """Case number and revision of a scan that is a cart's label, known or not; None for any other scan."""
        code = read_cart_code(text)
        if code is None or looks_like_gs1(text) or self.set_id(text) or self.thing_id(text):
            return None
        return code

    def thing_id(self, text: str) -> str:
        """The number of an item or a pack as it is spelled in the tables; empty when there is none."""
        return spelled(text, self.site.items) or spelled(text, self.site.packs)

    def name(self, thing: str) -> str:
        """What a set, tray, item or pack is called."""
        one = self.site.sets.get(thing)
        tray = self.site.trays.get(one.tray if one else thing)
        known = tray or self.site.items.get(thing)
        return known.name if known else ""

    def planned_for(self, set_id: str) -> tuple[str, ...]:
        """The carts whose lists name a set, those first that need it first."""
        lines = sorted((t.needed, c.case.number) for c in self.plan.carts for t in c.trays if t.set_id == set_id)
        return tuple(dict.fromkeys(case for _, case in lines))

    def listed_for(self, item: str) -> tuple[str, ...]:
        """The carts whose lists ask for an item."""
        return tuple(c.case.number for c in self.plan.carts if listed_quantity(c, item))

    def set_id(self, text: str) -> str:
        """The id of a set as it is spelled in the tables; empty when there is none."""
        return spelled(text, self.site.sets)

    def tray_id(self, text: str) -> str:
        """The id of a tray as it is spelled in the tables; empty when there is none."""
        return spelled(text, self.site.trays)

    def item(self, text: str, where: Where) -> tuple[TakenItem | None, Problem | None]:
        """One of an item, by its number, its GTIN or its GS1 label (with lot and expiry)."""
        thing = self.thing_id(text)
        if thing:
            return TakenItem(item=thing, quantity=1, where=where), None
        if looks_like_gs1(text):
            return self._labelled(text, where)
        if is_gtin(text):
            return self._by_gtin(text.zfill(14), TakenItem(item="", quantity=1, where=where))
        return None, self._unknown(text, where)

    def _labelled(self, text: str, where: Where) -> tuple[TakenItem | None, Problem | None]:
        try:
            label = read_gs1(text, self.today)
        except Gs1Error as error:
            return None, _problem("unreadable label", where, f"this label cannot be read: {error}", text)
        one = TakenItem(item="", quantity=1, lot=label.lot, expiry=label.expiry, where=where)
        taken, problem = self._by_gtin(label.gtin, one)
        return (self._with_lot(taken, text) if taken else None), problem

    def _with_lot(self, one: TakenItem, text: str) -> TakenItem:
        """An item with its lot as the tables spell it where the scanner's letters came the wrong way round.

        Capital and small letters of a lot are not the same (GS1 General Specifications, AI 10), so that it is
        read anew only where the mark of the symbol before it came in the wrong letters too. A label without
        an expiry has that of its lot in the tables.
        """
        lots = {lot.lot: lot for lot in self.site.lots if lot.item == one.item}
        lot = (spelled(one.lot, lots) or one.lot) if has_letters_swapped(text) else one.lot
        known = lots.get(lot)
        return replace(
            one, lot=lot, expiry=one.expiry or (known.expiry if known and isinstance(known.expiry, date) else None)
        )

    def _by_gtin(self, gtin: str, one: TakenItem) -> tuple[TakenItem | None, Problem | None]:
        found = [i.id for i in self.site.items.values() if i.gtin and i.gtin.zfill(14) == gtin]
        if len(found) == 1:
            taken = TakenItem(item=found[0], quantity=1, lot=one.lot, expiry=one.expiry, where=one.where)
            return taken, None
        what = f"GTIN {gtin} belongs to {len(found) or 'no'} item{'' if len(found) == 1 else 's'} of the catalogue"
        return None, _problem("unknown gtin", one.where, what, gtin, tuple(found))

    def _unknown(self, text: str, where: Where) -> Problem:
        known = (*self.site.sets, *self.site.items, *self.site.packs)
        near = Candidates(known).nearest(text)
        return _problem("unknown scan", where, "this is no cart, set, item or word that is known", text, near)


def _problem(kind: str, where: Where, message: str, value: str = "", nearest: tuple[str, ...] = ()) -> Problem:
    value = value if may_be_quoted(value, nearest) else ""
    return Problem(kind=kind, severity=Severity.TO_MEND, where=where, message=message, value=value, nearest=nearest)


def line_for_set(
    cart: Cart, set_id: str, book: ScanBook, taken: frozenset[tuple[str, int]], missing: frozenset[tuple[str, int]]
) -> TrayLine | None:
    """The line of a list that a scanned set serves: the one that names it, then its tray's, then a stand-in's.

    A line of the set's side goes before others. Lines in ``taken`` (tray, copy) have their set already;
    those in ``missing`` come after others of their kind, unless they name the set.
    """
    one = book.site.sets[set_id]
    tray = one.tray
    free = [line for line in cart.trays if (line.need.thing, line.copy) not in taken]
    free.sort(
        key=lambda line: (
            one.side is not None and not one.serves_side(line.need.side),
            (line.need.thing, line.copy) in missing,
        )
    )
    for line in free:
        if line.set_id == set_id:
            return line
    for line in free:
        if line.need.thing == tray:
            return line
    for line in free:
        known = book.site.trays.get(line.need.thing)
        if known and tray in {s.tray for s in known.stand_ins}:
            return line
    return None
