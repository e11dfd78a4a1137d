"""What each scanned line does to the facts of the cart that is open."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace

from picklist.evening.check_facts import listed_quantity
from picklist.evening.scan_book import ScanBook, line_for_set
from picklist.model.built import BuiltCart, CountFound, MissingThing, StoodIn, TakenItem, TakenSet
from picklist.model.plan import Cart, TrayLine
from picklist.problems import Where

# The facts afterwards, and the kind and message of what is wrong (facts unchanged) or worth a notice.
Said = tuple[BuiltCart, str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Acts:
    """One line's doing on one cart."""

    book: ScanBook
    cart: Cart
    facts: BuiltCart
    where: Where

    def scan(self, text: str) -> Said:
        """A set or an item goes onto the cart."""
        set_id = self.book.set_id(text)
        if set_id:
            return self._take_set(set_id)
        one, problem = self.book.item(text, self.where)
        if problem:
            return self._no(problem.kind, problem.sentence())
        assert one is not None
        return self._take_item(one)

    def _settled(self) -> frozenset[tuple[str, int]]:
        """Lines of trays that have their set, or that were told missing."""
        taken = {(t.tray, t.copy) for t in self.facts.sets}
        return frozenset(taken | {(m.thing, m.copy) for m in self.facts.missing if m.copy})

    def _take_set(self, set_id: str) -> Said:
        if set_id in {t.set_id for t in self.facts.sets}:
            return self._no("scanned twice", f"set {set_id} is on this cart already")
        line = line_for_set(self.cart, set_id, self.book, self._settled())
        if line is None:
            return self._no("set not wanted", f"no tray on the list of {self.facts.case} waits for set {set_id}")
        return self._with_set(line, set_id), "", ""

    def _with_set(self, line: TrayLine, set_id: str) -> BuiltCart:
        taken = TakenSet(tray=line.need.thing, copy=line.copy, set_id=set_id, where=self.where)
        return replace(self.facts, sets=(*self.facts.sets, taken))

    def _take_item(self, one: TakenItem) -> Said:
        scanned = sum(i.quantity for i in self.facts.scanned if i.item == one.item)
        wanted = listed_quantity(self.cart, one.item)
        if scanned < wanted:
            return replace(self.facts, scanned=_with_one(self.facts.scanned, one)), "", ""
        added = replace(self.facts, added=_with_one(self.facts.added, one))
        if wanted:
            return (
                added,
                "more than listed",
                f"the list asks for {wanted} of {one.item}; this one more was noted as added",
            )
        return added, "not on the list", f"the list does not ask for {one.item}; it was noted as added by hand"

    def times(self, text: str) -> Said:
        """The item scanned last was so many, all together."""
        number = _whole(text)
        last = max((*self.facts.scanned, *self.facts.added), key=lambda i: i.where.row or 0, default=None)
        if not number or last is None:
            return self._no("not a number", "TIMES needs a whole number above 0, after an item was scanned")
        facts = self.facts
        message = ("", "")
        for _ in range(number - 1):
            facts, *told = replace(self, facts=facts)._take_item(replace(last, quantity=1))
            message = (told[0], told[1])
        return (facts, *message)

    def missing(self, text: str) -> Said:
        """A tray, a set or so many of an item did not come."""
        line = self._tray_line(text)
        if line:
            gone = MissingThing(thing=line.need.thing, copy=line.copy, quantity=1, where=self.where)
            return replace(self.facts, missing=(*self.facts.missing, gone)), "", ""
        item, number = self._item_and_number(text)
        if not item:
            return self._not_listed(text)
        listed = listed_quantity(self.cart, item)
        quantity = listed if number is None else number
        if not 0 < quantity <= listed:
            return self._no("more than listed", f"the list asks for {listed} of {item}, not {quantity}")
        gone = MissingThing(thing=item, quantity=quantity, where=self.where)
        return replace(self.facts, missing=(*self.facts.missing, gone)), "", ""

    def instead(self, text: str) -> Said:
        """Something was taken in place of a tray, a set or an item on the list."""
        for asked, given in _splits(text):
            line, set_id = self._tray_line(asked), self.book.set_id(given)
            if line and set_id:
                return self._with_set(line, set_id), "", ""
            item, number = self._item_and_number(given, listed=False)
            thing = self._listed_item(asked)
            if thing and item:
                quantity = number or listed_quantity(self.cart, thing)
                stood = StoodIn(thing=thing, stood_in=item, quantity=quantity, where=self.where)
                return replace(self.facts, stood_in=(*self.facts.stood_in, stood)), "", ""
        return self._no(
            "unknown scan", f"INSTEAD needs a thing on the list and what was taken in its place, not '{text}'"
        )

    def count(self, text: str) -> Said:
        """The shelf held so many of an item."""
        item, number = self._item_and_number(text, listed=False)
        if not item or number is None:
            return self._no("not a number", f"COUNT needs an item and a whole number, not '{text}'")
        found = CountFound(item=item, quantity=number, where=self.where)
        return replace(self.facts, counts=(*self.facts.counts, found)), "", ""

    def by(self, text: str) -> Said:
        """Who built the cart."""
        return replace(self.facts, by=text), "", ""

    def note(self, text: str) -> Said:
        """A remark, after those made before."""
        return replace(self.facts, remark="; ".join(part for part in (self.facts.remark, text) if part)), "", ""

    def done(self, _text: str) -> Said:
        """The cart is built; trays of which no set was scanned count as planned, which is said."""
        done = replace(self.facts, done=True)
        unseen = [line for line in self.cart.trays if (line.need.thing, line.copy) not in self._settled()]
        if not unseen:
            return done, "", ""
        names = ", ".join(line.set_id or line.need.thing for line in unseen)
        return done, "not scanned", f"no set was scanned for {len(unseen)} trays, which count as planned: {names}"

    def _tray_line(self, text: str) -> TrayLine | None:
        """The line of a tray by its id or by the set planned for it, not settled yet."""
        tray, set_id = self.book.tray_id(text), self.book.set_id(text)
        for line in self.cart.trays:
            named = (tray and line.need.thing == tray) or (set_id and line.set_id == set_id)
            if named and (line.need.thing, line.copy) not in self._settled():
                return line
        return None

    def _listed_item(self, text: str) -> str:
        one, _ = self.book.item(text, self.where)
        return one.item if one and listed_quantity(self.cart, one.item) else ""

    def _item_and_number(self, text: str, *, listed: bool = True) -> tuple[str, int | None]:
        """An item, and the number behind it where there is one; the item's own digits are not taken for it."""
        for item, number in ((text, ""), text.rpartition(" ")[::2]):
            one, _ = self.book.item(item.strip(), self.where) if item else (None, None)
            wanted = one and (not listed or listed_quantity(self.cart, one.item))
            if one and wanted and (not number or _whole(number) is not None):
                return one.item, _whole(number) if number else None
        return "", None

    def _not_listed(self, text: str) -> Said:
        return self._no("not on the list", f"the list of {self.facts.case} asks for no '{text}'")

    def _no(self, kind: str, message: str) -> Said:
        return self.facts, kind, message


def _with_one(items: tuple[TakenItem, ...], one: TakenItem) -> tuple[TakenItem, ...]:
    """Items with one more, joined with those of the same lot."""
    counted = Counter({(i.item, i.lot, i.expiry): i.quantity for i in items})
    wheres = {(i.item, i.lot, i.expiry): i.where for i in items}
    key = (one.item, one.lot, one.expiry)
    counted[key] += one.quantity
    wheres[key] = one.where
    return tuple(
        TakenItem(item=item, lot=lot, expiry=expiry, quantity=n, where=wheres[item, lot, expiry])
        for (item, lot, expiry), n in counted.items()
    )


def _whole(text: str) -> int | None:
    return int(text) if text.isascii() and text.isdigit() and len(text) <= 5 else None


def _splits(text: str) -> list[tuple[str, str]]:
    """All ways to read a line as two things: ids may hold spaces."""
    words = text.split()
    return [(" ".join(words[:n]), " ".join(words[n:])) for n in range(1, len(words))]
