"""A plan against the one it replaces: which carts change, what to add, take off and put back where."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import time

from picklist.evening.changes import CartChange, CartChangeKind, ListInHand, PlanChange
from picklist.evening.content import (
    CartThing,
    Content,
    ContentChange,
    PieceLine,
    Short,
    as_built,
    as_it_holds,
    beside_short,
    beyond_list,
    cart_content,
    compare_content,
    in_place_of_short,
    keep_what_is_there,
    meeting,
    on_the_cart,
    short_of,
    still_missing,
    true_facts,
    with_stand_ins,
    without_awaited,
    without_missing,
)
from picklist.evening.details import Context, Detail, Details, cart_details, compare_details, must_reprint, news_of_sets
from picklist.evening.held_sets import first_lists, without_sets_to_come
from picklist.evening.match import CaseMatch, match_cases
from picklist.grouping import grouped
from picklist.model.built import BuiltCart
from picklist.model.catalogue import Item
from picklist.model.expiry import is_past
from picklist.model.plan import Cart, Plan
from picklist.model.schedule import Case
from picklist.model.sets import NEVER_AVAILABLE
from picklist.wording import say_carts as words
from picklist.wording.say_carts import cart_state
from picklist.wording.say_conflicts import statement

LIST_STAYS = frozenset({CartChangeKind.UNCHANGED, CartChangeKind.OVER, CartChangeKind.UNREAD})


def compare_plans(
    old: Plan | None,
    new: Plan,
    *,
    match: CaseMatch | None = None,
    built: Mapping[str, BuiltCart] | None = None,
    in_hand: Mapping[str, ListInHand] | None = None,
    plans: Mapping[int, Plan] | None = None,
    items: Mapping[str, Item] | None = None,
) -> PlanChange:
    """What a new plan changes on every cart of its day.

    ``match`` pairs the cases (found by ``match_cases`` when not given); ``built`` (facts) and
    ``in_hand`` (lists last printed) are keyed by the old case number, or by the key under which
    a cart in an open question is kept; ``plans`` are those of which lists are in hand, by revision,
    so that small shifts from plan to plan do not add up on paper that stays. The cart of a running
    case is in its room and changes no more. ``items`` is the catalogue, for what is on a cart though
    no list names it. Without an old plan every cart is new. Lines name the other cart when a thing passes
    from one to another.
    """
    cases = [cart.case for cart in old.carts] if old else []
    found = match if match is not None else match_cases(cases, [cart.case for cart in new.carts])
    was, now = _PlanIndex.of(old) if old else None, _PlanIndex.of(new)
    pair = _Pair(
        old=was,
        new=now,
        match=found,
        built=built or {},
        in_hand=in_hand or {},
        printed={
            revision: was if was and plan is old else _PlanIndex.of(plan) for revision, plan in (plans or {}).items()
        },
        items=items or {},
        first=first_lists(in_hand or {}, built or {}),
        in_process=frozenset(one.id for one in new.sets if one.is_in_process),
        givers={(one.set_id, one.waiter): giver for one in new.reuses if (giver := now.carts.get(one.giver))},
    )
    carts = [pair.live(number) for number in pair.new.carts]
    carts += [pair.cancelled(number) for number in found.cancelled]
    carts += [pair.cancelled(number) for number in found.superseded if number in pair.built]
    carts += [pair.left_alone(CartChangeKind.ASKED, number) for number in found.asked_old]
    carts += [pair.left_alone(CartChangeKind.OVER, number) for number in found.over]
    carts += [pair.left_alone(CartChangeKind.UNREAD, number) for number in found.unread]
    return PlanChange(
        day=new.day,
        old_revision=old.revision if old else None,
        revision=new.revision,
        made=new.now,
        carts=tuple(pass_on(carts)),
        match=found,
        old_cases=(*cases, *_held_cases(cases, in_hand or {})),
    )


def _held_cases(known: Iterable[Case], in_hand: Mapping[str, ListInHand]) -> list[Case]:
    """The cases of lists in hand that the former plan has not."""
    numbers = {case.number for case in known}
    return [held.case for key, held in sorted(in_hand.items()) if held.case and key not in numbers]


@dataclass(frozen=True, slots=True, kw_only=True)
class _PlanIndex:
    """One plan, ready to look things up in."""

    plan: Plan
    carts: dict[str, Cart]
    homes: dict[str, str]
    details: dict[str, Details]

    @classmethod
    def of(cls, plan: Plan) -> _PlanIndex:
        context = Context.of(plan)
        carts = {c.case.number: c for c in plan.carts if not c.case.is_cancelled}
        return cls(
            plan=plan,
            carts=carts,
            homes={one.id: one.place for one in plan.sets},
            details={n: cart_details(c, context) for n, c in carts.items()},
        )

    def content(self, number: str) -> Content:
        """What the list of a case puts on its cart."""
        cart = self.carts[number]
        return Counter() if cart.stopped else cart_content(cart, self.homes)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pair:
    """Two plans, how their cases match, and what is known of the carts themselves."""

    old: _PlanIndex | None
    new: _PlanIndex
    match: CaseMatch
    built: Mapping[str, BuiltCart]
    in_hand: Mapping[str, ListInHand]
    printed: Mapping[int, _PlanIndex]
    items: Mapping[str, Item]
    first: Mapping[str, str]  # by set, the list in hand that has it first, as reported
    in_process: frozenset[str]  # sets in use or being made ready again
    givers: Mapping[tuple[str, str], Cart]  # by set and waiting case, the cart of the day that has it before

    def live(self, number: str) -> CartChange:
        """The change of a cart that the new plan has."""
        before = self.match.old_number(number)
        if before is None or self.old is None or before not in {*self.old.carts, *self.in_hand}:
            return self._new_cart(number)
        if self.new.carts[number].case.is_running:
            return self._blank(CartChangeKind.UNCHANGED, number, before)
        if self.new.carts[number].stopped:
            return self._stopped(number, before)
        return self._kept_cart(number, before)

    def _new_cart(self, number: str) -> CartChange:
        asked = number in {q.new_case for q in self.match.questions}
        change = compare_content(Counter(), self.new.content(number))
        kind = CartChangeKind.STOPPED if self.new.carts[number].stopped else CartChangeKind.NEW
        return replace(
            self._blank(CartChangeKind.ASKED if asked else kind, number, ""),
            add=change.add,
        )

    def _kept_cart(self, number: str, before: str) -> CartChange:
        listed, facts = self._listed(before), self.built.get(before)
        wanted = self.new.content(number)
        still: Content = Counter()
        actual, report = listed, None
        if facts:
            facts, short = self._still_true(facts, before), self._short(before)
            actual = as_built(listed, facts, short)
            asked = keep_what_is_there(actual, wanted, self.new.plan.day) if facts.done else wanted
            lacks = compare_content(actual, asked).add
            gone = listed - without_missing(listed, beside_short(facts, short))
            trays = [p.piece for p in lacks if (p.piece.wanted, p.piece.copy) in facts.missing_trays]
            if trays:  # also after a list that had no set for it, or had it under another number
                gone = Counter(trays) + Counter({piece: many for piece, many in gone.items() if not piece.set_id})
            still = still_missing(gone, lacks)
            short, asked, beyond = short_of(self.new.carts[number]), wanted - still, beyond_list(actual, facts)
            wanted = with_stand_ins(asked, beside_short(facts, short))
            if facts.done:
                actual, beyond = meeting(actual, wanted, beyond)
            actual += Counter({piece: many for piece, many in beyond.items() if piece.wanted})
            wanted += in_place_of_short(actual, facts, short, wanted)
            if facts.done:
                wanted = keep_what_is_there(actual, wanted, self.new.plan.day)
            report = as_it_holds(self.built[before], asked, still, short, beyond)
        work = compare_content(actual, wanted)
        if facts and facts.done:
            there = self._without_sets_to_come(without_awaited(actual, facts), before)
            off = (line for line in work.take_off if line.piece in there)  # a tray that never came is not on it
            lent = compare_content(self._lent(number, before, there & wanted), Counter()).take_off
            work = replace(work, add=(*work.add, *lent), take_off=(*off, *lent))
        change = self._said_otherwise(number, before, bool(work or still - listed))
        return replace(
            change,
            add=work.add,
            take_off=self._with_homes(work.take_off),
            remarks=work.remark,
            still_missing=compare_content(Counter(), still).add,
            reasons=why_changed(self.new.plan, number, work) if facts and facts.done else (),
            report=report,
        )

    def _without_sets_to_come(self, content: Content, before: str) -> Content:
        held = self.in_hand.get(before)
        if held is None:
            return content
        return without_sets_to_come(content, before, held, self.built[before], self.first, self.in_process)

    def _lent(self, number: str, before: str, there: Content) -> Content:
        """The sets on a built cart that another case of the day gets first: they leave it, and come back later.

        Once that case has a list with such a set, it was said.
        """
        return Counter(
            {
                piece: quantity
                for piece, quantity in there.items()
                if (giver := self.givers.get((piece.set_id, number))) and not giver.case.is_running
                if self.first.get(piece.set_id, before) == before
            }
        )

    def _said_otherwise(self, number: str, before: str, work: bool) -> CartChange:
        assert self.old is not None
        renamed = (Detail(what="case", of="", was=before, now=number),) if number != before else ()
        if before not in self.old.carts:  # an answer found a cart of an earlier plan
            return replace(self._blank(CartChangeKind.CHANGED, number, before), details=renamed)
        details = renamed + compare_details(self._printed_details(number, before), self.new.details[number])
        kind = CartChangeKind.CHANGED if work or must_reprint(details) else CartChangeKind.UNCHANGED
        return replace(
            self._blank(kind, number, before),
            details=details if kind is CartChangeKind.CHANGED else (),
            whereabouts=news_of_sets(self.old.carts[before], self.new.carts[number]),
        )

    def _printed_details(self, number: str, before: str) -> Details:
        """What the list in hand says; of a cart that is or was stopped what the old plan says."""
        assert self.old is not None
        held = self.in_hand.get(before)
        sheet = self.printed.get(held.revision) if held else None
        stopped = self.old.carts[before].stopped or self.new.carts[number].stopped
        if stopped or held is None or sheet is None or held.number not in sheet.details:
            return self.old.details[before]
        return sheet.details[held.number]

    def _stopped(self, number: str, before: str) -> CartChange:
        change = self._said_otherwise(number, before, work=False)
        if change.kind is CartChangeKind.UNCHANGED:
            return change
        return replace(change, kind=CartChangeKind.STOPPED, revision=self.new.plan.revision)

    def cancelled(self, number: str) -> CartChange:
        """The put-back list of a cart that is no longer wanted."""
        facts = self.built.get(number)
        listed = self._listed(number)
        if facts:
            actual = on_the_cart(listed, self._still_true(facts, number), self._short(number))
            listed = self._without_sets_to_come(actual, number)
        others = [c.day for c in self.new.plan.cases if c.number == number and c.day != self.new.plan.day]
        return replace(
            self._blank(CartChangeKind.CANCELLED, number, number),
            take_off=self._with_homes(compare_content(listed, Counter()).take_off),
            moved_to=others[0] if others else None,
        )

    def left_alone(self, kind: CartChangeKind, number: str) -> CartChange:
        """A cart that is left as it is: its case is done or its row unreadable, or a question is to be answered."""
        return self._blank(kind, number, number)

    def _still_true(self, facts: BuiltCart, before: str) -> BuiltCart:
        held = self.in_hand.get(before)
        return true_facts(facts, held.revision) if held else facts

    def _listed(self, before: str) -> Content:
        held = self.in_hand.get(before)
        if held is not None:
            return held.content
        assert self.old is not None
        return self.old.content(before)

    def _short(self, before: str) -> Short:
        held = self.in_hand.get(before)
        if held is not None:
            return held.short
        assert self.old is not None
        return short_of(self.old.carts[before])

    def _blank(self, kind: CartChangeKind, number: str, before: str) -> CartChange:
        old_revision = self.old.plan.revision if self.old else None
        held = self.in_hand[before].revision if before in self.in_hand else old_revision
        keeps = kind in LIST_STAYS or (kind is CartChangeKind.ASKED and before != "")
        facts = self.built.get(before)
        return CartChange(
            kind=kind,
            case=number,
            old_case=before,
            revision=held if keeps and held is not None else self.new.plan.revision,
            replaces=held if before and not keeps else None,
            made=self.new.plan.now,
            built=bool(facts and facts.done),
            started=bool(facts and not facts.done),
            waits=tuple(one.set_id for one in facts.to_come) if facts else (),
            state=cart_state(facts, self.new.plan.settings.site_clock) if facts else "",
        )

    def _with_homes(self, lines: Iterable[PieceLine]) -> tuple[PieceLine, ...]:
        """Lines that say where each thing goes back to, also for what the list did not name."""
        plans = [sheet.plan for sheet in (self.old, self.new) if sheet]
        shelves = {one.id: one.place for plan in plans for one in plan.sets if one.place}
        items = {item.id: item for plan in plans for item in plan.items} | dict(self.items)
        shelves |= {item.id: item.place for item in items.values() if item.id not in shelves}

        def homed(piece: CartThing) -> CartThing:
            name = piece.name or (items[piece.thing].name if piece.thing in items else "")
            return replace(piece, name=name, home=piece.home or shelves.get(piece.set_id or piece.thing, ""))

        return tuple(replace(line, piece=homed(line.piece)) for line in lines)


def pass_on(carts: Sequence[CartChange]) -> list[CartChange]:
    """The same changes, each line naming the cart that gives or gets the thing, where one does.

    Carts give and get in their stated order, so that the same plans give the same lines; but those
    that were reported built give first: what is there is surely on no other cart.
    """
    wanted = grouped((line.piece.body, (cart, line)) for cart in carts for line in cart.add)
    left = {id(line): line.quantity for cart in carts for line in (*cart.add, *cart.take_off)}
    shares: dict[int, Counter[Giver]] = {key: Counter() for key in left}
    for giver in sorted(carts, key=lambda cart: (not cart.built, not cart.started)):
        for line in giver.take_off:
            for getter, want in wanted.get(line.piece.body, ()):
                both = min(left[id(line)], left[id(want)])
                for one, other in ((line, getter), (want, giver)):
                    shares[id(one)][other.kind, other.case] += both
                    left[id(one)] -= both

    def parted(lines: Iterable[PieceLine]) -> tuple[PieceLine, ...]:
        """Lines split by the cart at the other end; what no cart gives or gets comes last."""
        return tuple(
            replace(line, quantity=quantity, cart=case)
            for line in lines
            for (_, case), quantity in [*shares[id(line)].items(), (("", ""), left[id(line)])]
            if quantity
        )

    return [replace(cart, add=parted(cart.add), take_off=parted(cart.take_off)) for cart in carts]


Giver = tuple[str, str]  # kind and case: a number may stand for a cancelled and a new case at once
_MIDNIGHT = time(0)


def why_changed(plan: Plan, case: str, work: ContentChange) -> tuple[str, ...]:
    """Why each thing leaves a built cart or comes onto it; things with one reason share a sentence.

    The sentence that ends in "gives no reason" is a fault of the plan worth telling.
    """
    cart = plan.cart(case)
    assert cart is not None
    wanted = {line.need.thing for line in cart.trays} | {line.need.thing for line in cart.goods}
    off = [line.piece for line in work.take_off]
    gone = [_label(piece) for piece in off if piece.wanted not in wanted]
    fresh = [_label(line.piece) for line in work.add if line.piece.wanted not in {piece.wanted for piece in off}]
    reasons = [words.no_longer_wanted(gone)] if gone else []
    reasons += [_why_off(plan, cart, piece) for piece in off if piece.wanted in wanted]
    reasons += [words.now_wanted(fresh)] if fresh else []
    reasons += [words.now_to_be(_label(mark.after), mark.after.part.value) for mark in work.remark]
    return tuple(dict.fromkeys(reasons))


def _label(piece: CartThing) -> str:
    return piece.set_id or piece.name or piece.thing


def _why_off(plan: Plan, cart: Cart, piece: CartThing) -> str:
    return _why_set_off(plan, cart, piece) if piece.set_id else _why_item_off(cart, piece)


def _why_set_off(plan: Plan, cart: Cart, piece: CartThing) -> str:
    one = next((s for s in plan.sets if s.id == piece.set_id), None)
    if one is None:
        return words.set_gone(piece.set_id)
    if one.state in NEVER_AVAILABLE:
        return words.set_recorded(one.id, one.state)
    if one.recorded_until and one.recorded_until < plan.settings.site_clock.at_or_after(plan.day, _MIDNIGHT):
        return words.set_expires(one.id)
    for conflict in plan.conflicts:
        touches = cart.case.number in conflict.cases
        if touches and (conflict.set_id == piece.set_id or conflict.tray == piece.wanted):
            return f"{piece.set_id}: {statement(conflict, plan.settings.site_clock)}"
    others = (other for other in plan.carts if other is not cart)
    has_it = (other.case.number for other in others if any(line.set_id == piece.set_id for line in other.trays))
    return words.set_taken(piece.set_id, next(has_it, ""))


def _why_item_off(cart: Cart, piece: CartThing) -> str:
    lines = [line for line in cart.goods if line.need.thing == piece.wanted]
    if is_past(piece.expiry, cart.case.day):
        return words.lot_expires(_label(piece), piece.lot)
    if any(line.is_short for line in lines):
        return words.item_short(_label(piece))
    lots = sorted({pick.lot for line in lines for pick in line.picks} - {piece.lot})
    return words.other_lot(_label(piece), lots, piece.lot) if lots else words.fewer(_label(piece))
