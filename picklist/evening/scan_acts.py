"""What each scanned line does to the report on the cart that is open, and what it is answered."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from datetime import datetime

from picklist.evening.add_reports import of_newer_list, with_trays_to_come
from picklist.evening.scan_book import ScanBook, line_for_set
from picklist.letters import whole_number
from picklist.model.built import BuiltCart, CountFound, MissingThing, ReportedFact, StoodIn, TakenItem, TakenSet
from picklist.model.plan import Cart, TrayLine
from picklist.model.scan_answer import ScanAnswer, ScanKind, Weight
from picklist.problems import Where

MOST = 999  # of one thing, as on the crew's workbook
MOST_DIGITS = 5  # of a quantity that is scanned or typed
LotKey = tuple[str, str, object, str]
# The report afterwards and the answers; the same report when nothing was recorded.
Said = tuple[BuiltCart, tuple[ScanAnswer, ...]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Acts:
    """One line's doing on one cart: its word, empty for a scan, and what follows it.

    ``opened`` is the report with which the cart was opened, ``scanned`` what was scanned since, by lot;
    ``revision`` is that of the cart's label, ``now`` when the line was scanned, ``built_at`` when DONE says
    that the cart was built.
    """

    word: str = ""
    rest: str = ""

    book: ScanBook
    cart: Cart
    facts: BuiltCart
    opened: BuiltCart
    scanned: Counter[LotKey]
    where: Where
    now: datetime
    built_at: datetime
    revision: int

    def scan(self, text: str) -> Said:
        """A set or an item goes onto the cart."""
        set_id = self.book.set_id(text)
        if set_id:
            return self._take_set(set_id)
        one, problem = self.book.item(text, self.where)
        if one is None:
            return self.facts, (self._answer(ScanKind.CHECKED, Weight.REFUSED, problem=problem),)
        return self.take_items(one, 1)

    def _take_set(self, set_id: str) -> Said:
        there = next((t for t in self.facts.sets if t.set_id == set_id), None)
        if there:
            return self._twice(there, there in self.opened.sets, set_id)
        gone = frozenset(self.facts.missing_trays)
        line = line_for_set(self.cart, set_id, self.book, frozenset(self.facts.taken), gone)
        if line is None:
            belongs = tuple(case for case in self.book.planned_for(set_id) if case != self.cart.case.number)
            refused = self._answer(ScanKind.NOT_WANTED, Weight.REFUSED, thing=set_id, cases=belongs)
            tray = self.book.site.sets[set_id].tray
            refused = replace(refused, place=self.book.place(set_id))
            return self.facts, (replace(refused, things=tuple(t.set_id for t in self.facts.sets if t.tray == tray)),)
        return self._with_set(line, set_id)

    def _twice(self, there: ReportedFact, before: bool, thing: str, serial: str = "") -> Said:
        """One and the same thing is scanned again; ``before``: it was on the cart when the cart was opened."""
        weight = Weight.LOOK if before else Weight.REFUSED
        again = self._answer(ScanKind.SCANNED_TWICE, weight, thing=thing, serial=serial)
        return self.facts, (replace(again, who=there.by, at=there.reported_at) if before else again,)

    def _with_set(self, line: TrayLine, set_id: str) -> Said:
        missing = self.facts.missing_trays.get(line.key)
        taken = TakenSet(tray=line.need.thing, copy=line.copy, set_id=set_id, where=self.where)
        after = self.facts.with_line(taken)
        others = tuple(case for case in self.book.planned_for(set_id) if case != self.cart.case.number)
        planned = (line.set_id,) if line.set_id and line.set_id != set_id else ()
        answer = self._answer(ScanKind.SET_ON, thing=set_id, name=self.book.name(set_id), things=planned)
        if others and line.set_id != set_id:
            answer = replace(answer, kind=ScanKind.OTHER_CARTS_SET, weight=Weight.LOOK, cases=others)
        elif missing:
            answer = replace(answer, kind=ScanKind.SET_FOUND, who=missing.by, at=missing.reported_at)
        return after, (answer, *self._before_its_time(set_id))

    def _before_its_time(self, set_id: str) -> tuple[ScanAnswer, ...]:
        """A warning of a set that the plan has ready later only."""
        expected = self.book.expected(set_id, self.cart.case.number)
        if expected is None or expected <= self.now:
            return ()
        return (self._answer(ScanKind.BEFORE_ITS_TIME, Weight.LOOK, thing=set_id, at=expected),)

    def take_items(self, one: TakenItem, times: int) -> Said:
        """So many of an item go onto the cart, as one scan; what the list does not ask for counts as added by hand.

        No two packages of an item have one serial number.
        """
        before = (*self.opened.scanned, *self.opened.added)
        on_it = (*self.facts.scanned, *self.facts.added)
        there = next((i for i in on_it if one.serial and (i.item, i.serial) == (one.item, one.serial)), None)
        if there:
            return self._twice(there, there in before, one.item, one.serial)
        if one.serial and times > 1:
            name = f"each {one.item} has a serial number of its own, so scan every package"
            return self.facts, (self._answer(ScanKind.NOT_A_NUMBER, Weight.REFUSED, name=name),)
        listed = self.cart.asked(one.item)
        key = one.about
        known = sum(i.quantity for i in before if i.about == key)
        facts, added, again = self.facts, 0, 0
        for _ in range(times):
            self.scanned[key] += 1
            on = facts.scanned_of(one.item)
            if (on >= listed or self.opened.done) and self.scanned[key] <= known:
                again += 1
            elif on < listed:
                facts = replace(facts, scanned=_with_one(facts.scanned, one))
            else:
                added += 1
                facts = replace(facts, added=_with_one(facts.added, one))
        facts, found = self._with_found(facts, one.item, listed)
        answer = replace(self._item_on(one, listed), quantity=facts.scanned_of(one.item))
        if added and listed:
            answer = replace(answer, kind=ScanKind.MORE_THAN_LISTED, weight=Weight.LOOK, quantity=added)
        elif added:
            belongs = self.book.listed_for(one.item)
            answer = replace(answer, kind=ScanKind.NOT_LISTED, weight=Weight.LOOK, quantity=added, cases=belongs)
            answer = replace(answer, place=self.book.place(one.item))
        elif again:
            was = next(i for i in before if i.about == key)
            answer = replace(answer, kind=ScanKind.COUNTED_BEFORE, weight=Weight.LOOK, before=known, who=was.by)
            answer = replace(answer, at=was.reported_at)
        return facts, (answer, *found)

    def _item_on(self, one: TakenItem, listed: int) -> ScanAnswer:
        """The answer that an item is on the cart; a lot that the list does not name for it is worth a look."""
        answer = self._answer(ScanKind.ITEM_ON, thing=one.item, name=self.book.name(one.item), listed=listed)
        answer = replace(answer, lot=one.lot, expiry=one.expiry, serial=one.serial)
        lots = {pick.lot for line in self.cart.goods if line.need.thing == one.item for pick in line.picks if pick.lot}
        if not one.lot or not lots or one.lot in lots:
            return answer
        return replace(answer, kind=ScanKind.OTHER_LOT, weight=Weight.LOOK, things=tuple(sorted(lots)))

    def _with_found(self, facts: BuiltCart, item: str, listed: int) -> Said:
        """What is missing of a scanned item: never more than the list asks for beside what was scanned."""
        left = facts.missing_of(item)
        if not left:
            return facts, ()
        on = facts.scanned_of(item)
        most = max(0, listed - on)
        if left > most:
            return self._less_missing(facts, item, left - most)
        return facts, (self.still_missing(next(m for m in facts.missing if m.thing == item), left),)

    def still_missing(self, one: MissingThing, quantity: int) -> ScanAnswer:
        """The answer that a thing is still missing, and who reported it."""
        return self._answer(
            ScanKind.STILL_MISSING,
            Weight.LOOK,
            thing=one.thing,
            name=self.book.name(one.thing),
            quantity=quantity,
            who=one.by,
            at=one.reported_at,
        )

    def missing(self, text: str) -> Said:
        """A tray, a set or so many of an item are not on the cart; 0 of it: it was found."""
        line = self._tray_line(text)
        if line:
            return self._tray_missing(line)
        item, number = self._item_and_number(text)
        if not item:
            return self.facts, (self._answer(ScanKind.NOT_LISTED, Weight.REFUSED, scan=text),)
        listed, before = self.cart.asked(item), self.facts.missing_of(item)
        quantity = listed if number is None else number
        if quantity == 0 and before:
            return self._less_missing(self.facts, item, before)
        answer = self._answer(ScanKind.MISSING, thing=item, name=self.book.name(item), quantity=quantity, listed=listed)
        if not 0 < quantity <= listed:
            return self.facts, (replace(answer, kind=ScanKind.MORE_THAN_LISTED, weight=Weight.REFUSED),)
        was = next((m for m in self.facts.missing if m.thing == item and not m.copy), None)
        if was:
            answer = replace(answer, before=before, who=was.by, at=was.reported_at)
        if quantity == before:
            return self.facts, (answer,)
        gone = MissingThing(thing=item, quantity=quantity, where=self.where)
        return self.facts.with_line(gone), (answer,)

    def _tray_missing(self, line: TrayLine) -> Said:
        answer = self._answer(ScanKind.MISSING, thing=line.need.thing, name=line.name_with_side, quantity=1)
        if line.key in self.facts.missing_trays:
            return self.facts, (answer,)
        gone = MissingThing(thing=line.need.thing, copy=line.copy, quantity=1, where=self.where)
        return self.facts.with_line(gone), (answer,)

    def found(self, text: str) -> Said:
        """What was missing is on the cart now: a tray, or so many of an item (all of them without a number)."""
        tray, set_id = self.book.tray_id(text), self.book.set_id(text)
        for line in self.cart.trays:
            named = (tray and line.need.thing == tray) or (set_id and line.set_id == set_id)
            gone = self.facts.missing_trays.get(line.key)
            if named and gone:
                answer = self._answer(ScanKind.FOUND, thing=gone.thing, name=line.name_with_side, who=gone.by)
                kept = tuple(m for m in self.facts.missing if m is not gone)
                return replace(self.facts, missing=kept), (replace(answer, at=gone.reported_at),)
        item, number = self._item_and_number(text)
        before = self.facts.missing_of(item)
        if not before or (number is not None and not 0 < number <= before):
            many = f"{before} of {item} {'is' if before == 1 else 'are'} missing"
            what = many if before else "Nothing of this is missing"
            return self.facts, (self._answer(ScanKind.UNKNOWN_SCAN, Weight.REFUSED, name=what),)
        return self._less_missing(self.facts, item, number or before)

    def _less_missing(self, facts: BuiltCart, item: str, quantity: int) -> Said:
        """So many of what was missing of an item are there."""
        left, kept = quantity, []
        was = next(m for m in facts.missing if m.thing == item and not m.copy)
        for one in facts.missing:
            off = min(left, one.quantity) if one.thing == item and not one.copy else 0
            left -= off
            kept += [replace(one, quantity=one.quantity - off)] if one.quantity > off else []
        after = replace(facts, missing=tuple(kept))
        answer = self._answer(ScanKind.FOUND, thing=item, name=self.book.name(item), quantity=after.missing_of(item))
        return after, (replace(answer, who=was.by, at=was.reported_at),)

    def instead(self, text: str) -> Said:
        """Something was taken in place of a tray, a set or an item on the list."""
        for asked, given in _splits(text):
            line, set_id = self._tray_line(asked), self.book.set_id(given)
            if line and set_id:
                if any(one == set_id and key != line.key for key, one in self.facts.taken.items()):
                    return self.facts, (self._answer(ScanKind.SCANNED_TWICE, Weight.REFUSED, thing=set_id),)
                return self._with_set(line, set_id)
            item, number = self._item_and_number(given, listed=False)
            thing = self._listed_item(asked)
            if thing and item:
                return self._stands_in(thing, item, number or self.cart.asked(thing))
        name = "INSTEAD needs a thing on the list and what was taken in its place"
        return self.facts, (self._answer(ScanKind.UNKNOWN_SCAN, Weight.REFUSED, name=name),)

    def _stands_in(self, thing: str, item: str, quantity: int) -> Said:
        stood = StoodIn(thing=thing, stood_in=item, quantity=quantity, where=self.where)
        answer = self._answer(
            ScanKind.INSTEAD, thing=item, name=self.book.name(item), quantity=quantity, things=(thing,)
        )
        return self.facts.with_line(stood), (answer,)

    def count(self, text: str) -> Said:
        """The shelf held so many of an item."""
        item, number = self._item_and_number(text, listed=False)
        if not item or number is None:
            name = "COUNT needs an item and a whole number"
            return self.facts, (self._answer(ScanKind.NOT_A_NUMBER, Weight.REFUSED, name=name),)
        found = CountFound(item=item, quantity=number, where=self.where)
        answer = self._answer(ScanKind.COUNT, thing=item, name=self.book.name(item), quantity=number)
        return self.facts.with_line(found), (answer,)

    def note(self, text: str) -> Said:
        """A remark, after those made before."""
        parts = [*(part for part in self.facts.remark.split("; ") if part), text]
        return replace(self.facts, remark="; ".join(dict.fromkeys(parts))), (self._answer(ScanKind.NOTE, name=text),)

    def done(self, _text: str) -> Said:
        """The cart is built; trays without a scan count as planned or are waited for, which is said."""
        after = replace(self.facts, done=True, at=self.built_at)
        if self.revision > after.revision:  # the changes of the newer list are carried out
            scanned = tuple(one for one in after.sets if one not in self.opened.sets)
            after = of_newer_list(replace(after, case=self.cart.case.number), self.revision, self.cart)
            after = replace(after, sets=(*(one for one in after.sets if one not in scanned), *scanned))
        after = with_trays_to_come(after, self.opened, self.cart)
        settled = {*self.facts.taken, *after.missing_trays, *((t.tray, t.copy) for t in after.to_come)}
        unseen = [t for t in self.cart.trays if t.key not in settled]
        answers = [self._answer(ScanKind.DONE, who=after.by)]
        if planned := tuple(line.set_id for line in unseen if line.set_id):
            answers.append(self._answer(ScanKind.NOT_SCANNED, Weight.LOOK, things=planned))
        if lacking := tuple(line.need.thing for line in unseen if not line.set_id):
            answers.append(self._answer(ScanKind.WITHOUT_SET, Weight.LOOK, things=lacking))
        if after.to_come:
            names = tuple(one.set_id for one in after.to_come)
            answers.append(self._answer(ScanKind.WAITS, Weight.LOOK, things=names))
        answers += self.all_missing(after)
        return after, tuple(answers)

    def all_missing(self, facts: BuiltCart) -> list[ScanAnswer]:
        """An answer for each thing that is missing on the cart."""
        return [self.still_missing(one, one.quantity) for one in facts.missing]

    def _tray_line(self, text: str) -> TrayLine | None:
        """The line of a tray by its id or a set planned or taken for it: one without a word before others."""
        tray, set_id = self.book.tray_id(text), self.book.set_id(text)
        taken, gone = self.facts.taken, self.facts.missing_trays
        named = [
            line
            for line in self.cart.trays
            if (tray and line.need.thing == tray) or (set_id and set_id in (line.set_id, taken.get(line.key)))
        ]
        named.sort(key=lambda t: (t.key in gone, t.key in taken))
        return named[0] if named else None

    def _listed_item(self, text: str) -> str:
        one, _ = self.book.item(text, self.where)
        return one.item if one and self.cart.asked(one.item) else ""

    def _item_and_number(self, text: str, *, listed: bool = True) -> tuple[str, int | None]:
        """An item, and the number behind it where there is one; the item's own digits are not taken for it."""
        for item, number in ((text, ""), text.rpartition(" ")[::2]):
            one, _ = self.book.item(item.strip(), self.where) if item else (None, None)
            wanted = one and (not listed or self.cart.asked(one.item))
            if one and wanted and (not number or whole_number(number, MOST_DIGITS) is not None):
                return one.item, whole_number(number, MOST_DIGITS) if number else None
        return "", None

    def _answer(self, kind: ScanKind, weight: Weight = Weight.DONE, **facts: object) -> ScanAnswer:
        given = {"scan": self.rest or self.word, "case": self.cart.case.number} | facts
        return ScanAnswer(kind=kind, weight=weight, where=self.where, **given)  # type: ignore[arg-type]


def _with_one(items: tuple[TakenItem, ...], one: TakenItem) -> tuple[TakenItem, ...]:
    """Items with one more, joined with those of the same lot and serial number."""
    same = next((i for i in items if i.about == one.about), None)
    if same is None:
        return (*items, replace(one, quantity=1))
    more = replace(same, quantity=same.quantity + 1, where=one.where)
    return tuple(more if i is same else i for i in items)


def _splits(text: str) -> list[tuple[str, str]]:
    """All ways to read a line as two things: ids may hold spaces."""
    words = text.split()
    return [(" ".join(words[:n]), " ".join(words[n:])) for n in range(1, len(words))]
