"""What a scan can mean: carts, sets and items by whatever a scanner reads off them."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import date, datetime

from picklist.evening.check_facts import find_item, spelled, thing_id
from picklist.labels.gs1 import looks_like_gs1, read_gs1
from picklist.labels.label import ASSET_IDENTIFIER, Label, LabelError
from picklist.labels.reading import read_label
from picklist.model.built import TakenItem, read_cart_code
from picklist.model.plan import Cart, Plan, TrayLine
from picklist.model.site import Site
from picklist.problems import NOWHERE, Problem, Where


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
        own = self._own_label(text)
        if not own and (looks_like_gs1(text) or self.set_id(text) or thing_id(text, self.site)):
            return None
        return read_cart_code(own or text)

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

    def expected(self, set_id: str, case: str) -> datetime | None:
        """When the plan has a set ready, for this cart where its list names it, else for its first; None: it is."""
        lines = [(c.case.number != case, t.needed, t) for c in self.plan.carts for t in c.trays if t.set_id == set_id]
        return min(lines, key=lambda line: line[:2])[2].expected if lines else None

    def listed_for(self, item: str) -> tuple[str, ...]:
        """The carts whose lists ask for an item."""
        return tuple(c.case.number for c in self.plan.carts if c.asked(item))

    def set_id(self, text: str) -> str:
        """The id of a set as it is spelled in the tables; empty when there is none."""
        return spelled(text, self.site.sets)

    def tray_id(self, text: str) -> str:
        """The id of a tray as it is spelled in the tables; empty when there is none."""
        return spelled(text, self.site.trays)

    def item(self, text: str, where: Where) -> tuple[TakenItem | None, Problem | None]:
        """One of an item, by its number, its GTIN or its maker's label (with lot and expiry)."""
        return find_item(text, self.site, self.today, where)

    def lot_label(self, text: str) -> Label | None:
        """What a label says that names lot, expiry or serial number and not the item, as the label before it does."""
        if self.set_id(text) or thing_id(text, self.site):
            return None
        with suppress(LabelError):
            label = read_label(text, self.today)
            return label if label and not label.names_item and (label.lot or label.expiry or label.serial) else None
        return None

    def meaning(self, text: str) -> tuple[object, ...] | None:
        """What a scan stands for where all of it is known: a planned cart, a set, a package; None for anything else."""
        opened = self.opens(text)
        if opened:
            cart = self.cart(opened[0])
            return ("cart", cart.case.number, opened[1]) if cart else None
        set_id = self.set_id(text)
        if set_id:
            return ("set", set_id)
        one, _ = self.item(text, NOWHERE)
        return one.about if one else None

    def knows_lot(self, text: str) -> bool:
        """Whether a scan is a label with a lot of its item that is in the tables."""
        one, _ = self.item(text, NOWHERE)
        if one is None or not one.lot:
            return False
        return any((lot.item, lot.lot) == (one.item, one.lot) for lot in self.site.lots)

    def place(self, thing: str) -> str:
        """Where a set, an item or a pack is stored; empty where no table says so."""
        known = self.site.sets.get(thing) or self.site.items.get(thing)
        return known.place if known else ""

    def _own_label(self, text: str) -> str:
        """What a cart's GS1 label says behind the site's company prefix; empty for any other scan."""
        prefix = self.site.settings.gs1_company_prefix
        if not prefix:
            return ""
        with suppress(LabelError):
            bare = text.startswith(f"{ASSET_IDENTIFIER}{prefix}")  # the scanner does not say which symbol it was
            asset = read_gs1(text, self.today).asset if bare or looks_like_gs1(text) else ""
            return asset.removeprefix(prefix) if asset.startswith(prefix) else ""
        return ""


def line_for_set(
    cart: Cart, set_id: str, book: ScanBook, taken: frozenset[tuple[str, int]], missing: frozenset[tuple[str, int]]
) -> TrayLine | None:
    """The line of a list that a scanned set serves: the one that names it, then its tray's, then a stand-in's.

    A line of the set's side goes before others. Lines in ``taken`` (tray, copy) have their set already;
    those in ``missing`` come after others of their kind, unless they name the set.
    """
    one = book.site.sets[set_id]
    tray = one.tray
    free = [line for line in cart.trays if line.key not in taken]
    free.sort(
        key=lambda line: (
            one.side is not None and not one.serves_side(line.need.side),
            line.key in missing,
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
