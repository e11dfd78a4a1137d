"""Whether what the crew reported can be: cases, sets and items that exist, on carts that ask for them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from picklist.labels.gs1 import has_letters_swapped
from picklist.labels.items import OTHER_PACKAGE, NoItemError, item_of
from picklist.labels.label import Label, LabelError
from picklist.labels.reading import read_label
from picklist.model.built import BuiltCart, MissingThing, StoodIn, TakenItem, TakenSet
from picklist.model.plan import Cart, Plan
from picklist.model.sets import NEVER_AVAILABLE
from picklist.model.site import Site
from picklist.problems import Problem, Where, to_fix
from picklist.resolve import latex_in_pack, suspects_text
from picklist.tables.nearest import Candidates
from picklist.tables.private import looks_private, may_be_quoted
from picklist.wording import full_day

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
        return None, _problem(UNKNOWN, where, "this is not a known cart, set, item or word", text, near)
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
    return to_fix(kind, where, message, value=value, nearest=nearest)


def check_facts(
    facts: Sequence[BuiltCart], plan: Plan, site: Site
) -> tuple[tuple[BuiltCart, ...], tuple[Problem, ...]]:
    """The facts that can be recorded, and what is wrong with the others.

    A cart with anything that cannot be (an unknown set, more missing than listed) is left out
    whole, to be reported again. What is dangerous yet can be (latex beside a latex alert, a thing past
    its expiry, a set not recorded as usable) is recorded, and named as a problem.
    """
    check = _Check(plan=plan, site=site)
    facts = [check.without_private(cart) for cart in facts]
    kept = [cart for cart in facts if check.can_be(cart)]
    return tuple(kept), (*check.problems, *sets_in_two_places(kept))


def as_spelled(facts: BuiltCart, site: Site, today: date) -> BuiltCart:
    """Facts with sets and items as the tables spell them, also where an item is named by its maker's label."""

    def put_on(one: TakenItem) -> TakenItem:
        found, _ = find_item(one.item, site, today, one.where)
        if found is None:
            return one
        return replace(
            one,
            item=found.item,
            lot=one.lot or found.lot,
            expiry=one.expiry or found.expiry,
            serial=one.serial or found.serial,
        )

    def instead(one: StoodIn) -> StoodIn:
        found, _ = find_item(one.stood_in, site, today, one.where)
        return replace(one, stood_in=found.item) if found else one

    return replace(
        facts,
        sets=tuple(replace(one, set_id=spelled(one.set_id, site.sets) or one.set_id) for one in facts.sets),
        stood_in=tuple(instead(one) for one in facts.stood_in),
        added=tuple(put_on(one) for one in facts.added),
    )


def sets_in_two_places(facts: Iterable[BuiltCart], of: str = "") -> tuple[Problem, ...]:
    """A problem for each set that is reported on two carts, or for two trays of one.

    Only those that cart ``of`` has a part in, if named. What a later one of the facts says of a tray counts.
    """
    places = {(cart.case, taken.about): (cart.case, taken) for cart in facts for taken in cart.sets}
    holders: dict[str, tuple[str, TakenSet]] = {}
    problems = []
    for case, taken in places.values():
        other = holders.setdefault(taken.set_id, (case, taken))
        if other[1] is not taken and (not of or of in (other[0], case)):
            problems.append(_in_two_places(taken, case, other))
    return tuple(problems)


def _in_two_places(taken: TakenSet, case: str, other: tuple[str, TakenSet]) -> Problem:
    twice = case == other[0]
    on = f"for two trays on the cart of {case}" if twice else f"on the carts of {other[0]} and of {case}"
    return to_fix(
        "set twice on a cart" if twice else "set on two carts",
        taken.where,
        f"set {taken.set_id} is reported {on}",
        value=taken.set_id,
        related=(other[1].where,) if other[1].where.file else (),
    )


@dataclass(slots=True, kw_only=True)
class _Check:
    """Gathers problems over all facts."""

    plan: Plan
    site: Site
    problems: list[Problem] = field(default_factory=list)

    def without_private(self, facts: BuiltCart) -> BuiltCart:
        """The facts without a remark or signature that seems to tell who the patient is, which is said."""
        today = self.site.settings.site_clock.day(self.plan.now)
        for name, text in (("remark", facts.remark), ("by", facts.by)):
            what = looks_private(text, today)
            if what:
                facts = replace(facts, remark="") if name == "remark" else replace(facts, by="")
                where = replace(facts.where, column=name, cell="")
                self._report("private text", where, f"this text seems to hold {what}; it was not kept", "", ())
        return facts

    def can_be(self, facts: BuiltCart) -> bool:
        cart = self.plan.cart(facts.case) if facts.day == self.plan.day else None
        if cart is None:
            known = [c.case.number for c in self.plan.carts]
            self._report("unknown case", facts.where, "no cart is planned for this case", facts.case, known)
            return False
        before = len(self.problems)
        if facts.revision > self.plan.revision:
            what = f"list {facts.revision} of {facts.case} was never printed"
            where = replace(facts.where, column="list", cell="")
            self._report("unknown list", where, what, str(facts.revision), [str(self.plan.revision)])
        for taken in facts.sets:
            self._check_set(taken, cart)
        for missing in facts.missing:
            self._check_missing(missing, cart)
        for stood in facts.stood_in:
            if not cart.asked(stood.thing, stood.person):
                self._report_unlisted(stood.thing, cart, stood.where)
            self._item(stood.stood_in, stood.where)
        for count in facts.counts:
            self._item(count.item, count.where)
        for item in (*facts.scanned, *facts.added):
            self._item(item.item, item.where)
        self._check_serials((*facts.scanned, *facts.added))
        good = len(self.problems) == before
        self._warn(facts, cart)
        return good

    def _check_serials(self, items: Sequence[TakenItem]) -> None:
        """A serial number is that of one package."""
        many = Counter[tuple[str, str]]()
        for one in items:
            many[one.item, one.serial] += one.quantity if one.serial else 0
            if many[one.item, one.serial] > 1:
                what = f"{one.item} with this serial number is there more than once; a serial number is of one package"
                self._report("serial number twice", one.where, what, "", ())

    def _check_set(self, taken: TakenSet, cart: Cart) -> None:
        sides = {line.key: line.need.side for line in cart.trays}
        side = sides.get((taken.tray, taken.copy))
        one = self.site.sets.get(taken.set_id)
        if (taken.tray, taken.copy) not in sides:
            self._report_unlisted(taken.tray, cart, taken.where)
        elif one is None:
            self._report("unknown set", taken.where, "no set has this id", taken.set_id, self.site.sets)
        elif one.tray not in (may := self._may_serve(taken.tray)):
            fit = [s.id for s in self.site.sets.values() if s.tray in may]
            what = f"set {one.id} is a {one.tray}, which does not stand in for {taken.tray}"
            self._report("set does not fit", taken.where, what, taken.set_id, fit)
        elif one.side and side and not one.serves_side(side):
            what = f"set {one.id} is {one.side}, case {cart.case.number} needs {taken.tray} {side}"
            fit = [s.id for s in self.site.sets.values() if s.tray == one.tray and s.serves_side(side)]
            self._report("set of other side", taken.where, what, taken.set_id, fit)

    def _may_serve(self, tray: str) -> tuple[str, ...]:
        known = self.site.trays.get(tray)
        return (tray, *(s.tray for s in known.stand_ins)) if known else (tray,)

    def _check_missing(self, missing: MissingThing, cart: Cart) -> None:
        if missing.copy:
            if (missing.thing, missing.copy) not in {line.key for line in cart.trays}:
                self._report_unlisted(missing.thing, cart, missing.where)
            return
        listed = cart.asked(missing.thing, missing.person)
        if not listed:
            self._report_unlisted(missing.thing, cart, missing.where)
        elif missing.quantity > listed:
            what = f"{missing.quantity} of {missing.thing} reported missing; case {cart.case.number} asks for {listed}"
            self._report("more than listed", missing.where, what, str(missing.quantity), ())

    def _report_unlisted(self, thing: str, cart: Cart, where: Where) -> None:
        known = {line.need.thing for line in cart.trays} | {line.need.thing for line in cart.goods}
        what = f"the list of case {cart.case.number} does not ask for this"
        self._report("not on the list", where, what, thing, sorted(known))

    def _item(self, item: str, where: Where) -> None:
        if item not in self.site.items and item not in self.site.packs:
            what = "no item has this number"
            self._report("unknown item", where, what, item, (*self.site.items, *self.site.packs))

    def _warn(self, facts: BuiltCart, cart: Cart) -> None:
        """Warn of what is dangerous, although it can be."""
        for taken in facts.sets:
            one = self.site.sets.get(taken.set_id)
            if one and one.state in NEVER_AVAILABLE:
                what = f"set {one.id} was taken for case {facts.case} and is recorded as {one.state.value}"
                self._report("set not usable", taken.where, what, one.id, ())
        for item in (*facts.scanned, *facts.added):
            if item.expiry and item.expiry < cart.case.day:
                expires = f"expires {full_day(item.expiry)}, before the case; do not use it"
                what = f"{item.item} lot {item.lot} on cart {facts.case} {expires}"
                self._report("expired", item.where, what, item.lot, ())
        if cart.case.latex_alert:
            for name, where in (
                *((s.stood_in, s.where) for s in facts.stood_in),
                *((i.item, i.where) for i in (*facts.scanned, *facts.added)),
            ):
                self._warn_of_latex(name, facts.case, where)
            self._warn_of_trays(facts, cart)

    def _warn_of_trays(self, facts: BuiltCart, cart: Cart) -> None:
        """A set of a tray that holds latex, or does not say and is not of the list, which would name it."""
        sets = self.site.sets
        listed = {sets[line.set_id].tray for line in cart.trays if line.set_id in sets}
        listed |= {line.need.thing for line in cart.trays}
        for taken in facts.sets:
            tray = self.site.trays.get(sets[taken.set_id].tray) if taken.set_id in sets else None
            if tray and (tray.latex or (tray.latex is None and tray.id not in listed)):
                said = "holds latex" if tray.latex else "is not stated to be free of latex"
                what = f"the tray of set {taken.set_id} {said}"
                what += f", and it is on the cart of case {facts.case}, which has the alert latex"
                self._report("latex", taken.where, what, taken.set_id, ())

    def _warn_of_latex(self, name: str, case: str, where: Where) -> None:
        item = self.site.items.get(name)
        if name in self.site.packs:
            said = suspects_text(latex_in_pack(self.site, name))
        elif item and item.may_hold_latex:
            said = "holds latex" if item.latex else "is not stated to be free of latex"
        else:
            return
        if said:
            what = f"{name} {said}, and is on the cart of case {case}, which has the alert latex"
            twins = (item.latex_free_twin,) if item and item.latex_free_twin else ()
            self._report("latex", where, what, name, twins)

    def _report(
        self,
        kind: str,
        where: Where,
        message: str,
        value: str,
        known: Iterable[str],
    ) -> None:
        candidates = list(known)
        near = tuple(candidates[:3]) if kind in _SHORT_LISTS else Candidates(candidates).nearest(value)
        known_id = value in self.site.items or value in self.site.packs or value in self.site.sets
        self.problems.append(
            to_fix(kind, where, message, value=value if known_id or may_be_quoted(value, near) else "", nearest=near)
        )


_SHORT_LISTS = frozenset({"set does not fit", "set of other side", "latex"})
