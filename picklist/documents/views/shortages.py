"""What the shelves cannot give to every cart, and the trays that no set can serve."""

from __future__ import annotations

from picklist import wording
from picklist.documents.views.finished_words import View
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.pick_list import may_stand_in
from picklist.documents.views.stamp import stamp_for
from picklist.letters import natural_key
from picklist.model.plan import Cart, TrayLine, in_order_of_completion
from picklist.model.supply import CaseShort, ItemShortage
from picklist.wording.say_conflicts import statement


class Lacking(View):
    """One case that lacks some of it."""

    def __init__(self, found: Lookup, one: CaseShort) -> None:
        cart = found.plan.cart(one.case)
        self.complete_by = found.when(cart.complete_by if cart else None)
        self.case = found.case_in_room(one.case)
        self.missing = wording.open_and_hold(one.open, one.hold)


class ShortageRow(View):
    """One item short over the whole day."""

    def __init__(self, found: Lookup, shortage: ItemShortage) -> None:
        self.name = shortage.name
        self.item = shortage.item
        self.wanted = wording.quantity(shortage.wanted)
        self.on_hand = wording.quantity(shortage.on_hand)
        self.kept_back = wording.quantity(shortage.kept_back)
        self.expired = wording.quantity(shortage.expired)
        self.lacking = tuple(Lacking(found, one) for one in shortage.lacking)
        self.stand_in = may_stand_in(found, shortage.stand_ins)


class TrayShortage(View):
    """A tray on a cart that no set can serve."""

    def __init__(self, found: Lookup, cart: Cart, line: TrayLine) -> None:
        conflicts = (found.conflicts[one] for one in line.conflicts if one in found.conflicts)
        self.complete_by = found.when(cart.complete_by)
        self.case = found.case_in_room(cart.case.number)
        self.tray = line.name_with_side
        self.why = " ".join(statement(one, found.clock) for one in conflicts)


class ShortagesView(View):
    """All that is short: items by the first cart that lacks them, then trays by the time of their carts."""

    def __init__(self, found: Lookup) -> None:
        ordered = sorted(found.plan.shortages, key=lambda one: (_first(found, one), natural_key(one.name)))
        carts = in_order_of_completion(found.plan.carts)
        items = tuple(ShortageRow(found, one) for one in ordered)
        trays = tuple(TrayShortage(found, cart, line) for cart in carts for line in cart.trays if not line.set_id)
        self.stamp = stamp_for(found.plan)
        self.title = f"Shortages, {found.clock.day_text(found.day)}"
        self.counts = (
            f"{wording.counted(len(items), 'item')} short, {wording.counted(len(trays), 'tray')} without a set"
        )
        self.items = items
        self.trays = trays


def _first(found: Lookup, shortage: ItemShortage) -> float:
    starts = [found.cases[one.case].start.timestamp() for one in shortage.lacking if one.case in found.cases]
    return min(starts, default=float("inf"))
