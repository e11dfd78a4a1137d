"""A plan against the one it replaces: which carts change, what to add, take off and put back where."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from picklist.evening.changes import CartChange, CartChangeKind, ListInHand, PlanChange
from picklist.evening.content import (
    CartThing,
    Content,
    ContentChange,
    PieceLine,
    cart_content,
    compare_content,
    short_of,
)
from picklist.evening.details import Context, Detail, Details, cart_details, compare_details, must_reprint, news_of_sets
from picklist.evening.match import CaseMatch, match_cases
from picklist.evening.reported_cart import ReportedCart, ToDo, holders
from picklist.grouping import grouped
from picklist.model.built import BuiltCart
from picklist.model.catalogue import Item
from picklist.model.expiry import is_past
from picklist.model.plan import Cart, Plan
from picklist.model.schedule import Case
from picklist.model.sets import NEVER_AVAILABLE, InstrumentSet, SetState
from picklist.wording import say_carts as words
from picklist.wording.say_carts import how_far
from picklist.wording.say_conflicts import statement

LIST_STAYS = frozenset({CartChangeKind.UNCHANGED, CartChangeKind.OVER, CartChangeKind.UNREAD})


def compare_plans(
    old: Plan | None,
    new: Plan,
    *,
    match: CaseMatch | None = None,
    built: Mapping[str, BuiltCart] | None = None,
    reported: Mapping[str, ReportedCart] | None = None,
    in_hand: Mapping[str, ListInHand] | None = None,
    plans: Mapping[int, Plan] | None = None,
    items: Mapping[str, Item] | None = None,
) -> PlanChange:
    """What a new plan changes on every cart of its day.

    ``match`` pairs the cases (found by ``match_cases`` when not given); ``built`` (facts), ``reported`` (what is
    known to be on the carts; what their lists in hand say when not given) and ``in_hand`` (lists last printed) are
    keyed by the old case number, or by the key under which a cart in an open question is kept; ``plans`` are those of
    which lists are in hand, by revision, so that small shifts from plan to plan do not add up on paper that stays.
    The cart of a running case is in its room and changes no more. ``items`` is the catalogue, for what is on a cart
    though no list names it. Without an old plan every cart is new. Lines name the other cart when a thing passes from
    one to another.
    """
    cases = [cart.case for cart in old.carts] if old else []
    found = match if match is not None else match_cases(cases, [cart.case for cart in new.carts])
    was, now = _PlanIndex.of(old) if old else None, _PlanIndex.of(new)
    gone_into_room = {*found.over, *(found.old_number(cart.case.number) for cart in new.carts if cart.case.is_running)}
    pair = _Pair(
        old=was,
        new=now,
        match=found,
        built=built or {},
        reported=reported or {},
        in_hand=in_hand or {},
        printed={
            revision: was if was and plan is old else _PlanIndex.of(plan) for revision, plan in (plans or {}).items()
        },
        items=items or {},
        holders=holders({key: one for key, one in (reported or {}).items() if key not in gone_into_room}),
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
        carts=tuple(pass_on(carts, pair.waiting())),
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
    sets: dict[str, InstrumentSet]
    details: dict[str, Details]

    @classmethod
    def of(cls, plan: Plan) -> _PlanIndex:
        context = Context.of(plan)
        carts = {c.case.number: c for c in plan.carts if not c.case.is_cancelled}
        return cls(
            plan=plan,
            carts=carts,
            sets={one.id: one for one in plan.sets},
            details={n: cart_details(c, context) for n, c in carts.items()},
        )

    def content(self, number: str) -> Content:
        """What the list of a case puts on its cart."""
        cart = self.carts[number]
        homes = {line.set_id: self.sets[line.set_id].place for line in cart.trays if line.set_id in self.sets}
        return Counter() if cart.stopped else cart_content(cart, homes)

    def is_ready(self, set_id: str, case: Case) -> bool:
        """Whether a set is ready for a case by its row."""
        one = self.sets.get(set_id)
        return (
            one is not None
            and one.state is SetState.ON_SHELF
            and (one.recorded_until is None or case.start <= one.recorded_until)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pair:
    """Two plans, how their cases match, and what is known of the carts themselves."""

    old: _PlanIndex | None
    new: _PlanIndex
    match: CaseMatch
    built: Mapping[str, BuiltCart]
    reported: Mapping[str, ReportedCart]
    in_hand: Mapping[str, ListInHand]
    printed: Mapping[int, _PlanIndex]
    items: Mapping[str, Item]
    holders: Mapping[str, str]  # by set, the cart that has it by the reports
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
        held, cart, told = self._held(before), self.new.carts[number], self._told(before)
        wanted, day = self.new.content(number), self.new.plan.day
        todo, asked = ToDo(work=compare_content(held.content, wanted)), ToDo()
        if told:
            todo = told.to_do(wanted, short_of(cart), self._leaving(number, told), day)
        if told and told.is_older_than(held.revision):
            asked = told.to_do(held.content, held.short, told.leaving, day)
        change = self._said_otherwise(number, before, todo.work != asked.work or bool(todo.still - held.content))
        work = replace(todo.work, take_off=tuple(self._off(before, todo.work.take_off)))
        return replace(
            change,
            add=work.add,
            take_off=self._with_homes(work.take_off),
            remarks=work.remark,
            still_missing=compare_content(Counter(), todo.still).add,
            takes_back=asked.asks_beside(todo),
            reasons=why_changed(self.new.plan, number, work, told.leaving) if told and told.facts.done else (),
            report=todo.report if told and told.is_older_than(change.revision) else None,
        )

    def _leaving(self, number: str, told: ReportedCart) -> set[str]:
        """The sets that leave a built cart and come back later.

        Another case of the day gets them first, or they were ready by the former plan and are to be made ready again;
        also those of which a list since its report says so.
        """
        assert self.old is not None
        cart = self.new.carts[number]
        expected = [line.set_id for line in cart.trays if line.expected]
        again = {one for one in expected if self.old.is_ready(one, cart.case) > self.new.is_ready(one, cart.case)}
        return {
            piece.set_id
            for piece in told.there
            if piece.set_id in told.leaving
            or ((giver := self.givers.get((piece.set_id, number))) and not giver.case.is_running)
            or piece.set_id in again
        }

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
        told = self._told(number)
        there = told.there + told.beyond if told else self._held(number).content
        off = self._off(number, compare_content(there, Counter()).take_off)
        others = [c.day for c in self.new.plan.cases if c.number == number and c.day != self.new.plan.day]
        return replace(
            self._blank(CartChangeKind.CANCELLED, number, number),
            take_off=self._with_homes(off),
            moved_to=others[0] if others else None,
        )

    def _off(self, before: str, lines: Iterable[PieceLine]) -> Iterator[PieceLine]:
        """What is to come off a cart, without the sets that cannot be on it.

        Another cart was reported with them, or the list in hand expects them later and nobody said that they came.
        """
        held, facts = self._held(before), self.built.get(before)
        sheet = self.printed.get(held.revision)
        cart = sheet.carts.get(held.number) if sheet else None
        waits = cart.trays if cart and not (facts and facts.done) else ()
        later = {line.set_id for line in waits if line.expected and line.expected > self.new.plan.now}
        later -= {*facts.taken.values()} if facts else set()
        for line in lines:
            if line.piece.set_id not in later and self.holders.get(line.piece.set_id, before) == before:
                yield line

    def waiting(self) -> dict[str, str]:
        """The carts that nobody reported, by the sets that their lists in hand have, of several the first."""
        carts = [
            (self.new.carts[new], {piece.set_id for piece in self.in_hand[old].content})
            for old, new in self.match.same
            if new in self.new.carts and old in self.in_hand and old not in self.built
        ]
        carts.sort(key=lambda pair: (pair[0].case.start, pair[0].case.number), reverse=True)
        return {
            line.set_id: cart.case.number
            for cart, had in carts
            for line in cart.trays
            if line.set_id and line.set_id in had
        }

    def left_alone(self, kind: CartChangeKind, number: str) -> CartChange:
        """A cart that is left as it is: its case is done or its row unreadable, or a question is to be answered."""
        return self._blank(kind, number, number)

    def _told(self, before: str) -> ReportedCart | None:
        """What is known to be on a cart; None where nobody reported on it."""
        facts, held = self.built.get(before), self._held(before)
        if facts is None:
            return None
        return self.reported.get(before) or ReportedCart(facts=facts, content=held.content, short=held.short)

    def _held(self, before: str) -> ListInHand:
        held = self.in_hand.get(before)
        if held is not None:
            return held
        assert self.old is not None
        cart, content = self.old.carts[before], self.old.content(before)
        return ListInHand(
            revision=self.old.plan.revision, content=content, short=short_of(cart), number=before, case=cart.case
        )

    def _blank(self, kind: CartChangeKind, number: str, before: str) -> CartChange:
        old_revision = self.old.plan.revision if self.old else None
        held = self.in_hand[before].revision if before in self.in_hand else old_revision
        keeps = kind in LIST_STAYS or (kind is CartChangeKind.ASKED and before != "")
        facts = self.built.get(before)
        revision = held if keeps and held is not None else self.new.plan.revision
        return CartChange(
            kind=kind,
            case=number,
            old_case=before,
            revision=revision,
            replaces=held if before and not keeps else None,
            made=self.new.plan.now,
            built=bool(facts and facts.done),
            started=bool(facts and not facts.done),
            built_from=facts.revision if facts else None,
            waits=tuple(one.set_id for one in facts.to_come) if facts else (),
            state=how_far(facts, revision, self.new.plan.settings.site_clock) if facts else "",
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


def pass_on(carts: Sequence[CartChange], waiting: Mapping[str, str]) -> list[CartChange]:
    """The same changes, each line naming the cart that gives or gets the thing, where one does.

    Carts give and get in their stated order, so that the same plans give the same lines; but those
    that were reported built give first: what is there is surely on no other cart. ``waiting`` (set -> case) are carts
    not built yet whose lists had it before.
    """
    wanted = grouped((line.piece.body, (cart, line)) for cart in carts for line in cart.add)
    left = {id(line): line.quantity for cart in carts for line in (*cart.add, *cart.take_off)}
    shares: dict[int, Counter[Giver]] = {key: Counter() for key in left}
    for giver in sorted(carts, key=lambda cart: (not cart.built, not cart.started)):
        for line in giver.take_off:
            for getter, want in wanted.get(line.piece.body, ()):
                if getter is giver:  # it leaves the cart and comes back
                    continue
                both = min(left[id(line)], left[id(want)])
                for one, other in ((line, getter), (want, giver)):
                    shares[id(one)][other.kind, other.case] += both
                    left[id(one)] -= both

    def parted(lines: Iterable[PieceLine], others: Mapping[str, str]) -> tuple[PieceLine, ...]:
        """Lines split by the cart at the other end; what no cart gives or gets comes last."""
        return tuple(
            replace(line, quantity=quantity, cart=case)
            for line in lines
            for (_, case), quantity in [
                *shares[id(line)].items(),
                (("", others.get(line.piece.set_id, "")), left[id(line)]),
            ]
            if quantity
        )

    return [replace(cart, add=parted(cart.add, {}), take_off=parted(cart.take_off, waiting)) for cart in carts]


Giver = tuple[str, str]  # kind and case: a number may stand for a cancelled and a new case at once


def why_changed(plan: Plan, case: str, work: ContentChange, leaving: Collection[str] = ()) -> tuple[str, ...]:
    """Why each thing leaves a built cart or comes onto it; things with one reason share a sentence.

    An earlier list has said why sets are ``leaving``, and that may be past.

    The sentence that ends in "gives no reason" is a fault of the plan worth telling.
    """
    cart = plan.cart(case)
    assert cart is not None
    wanted = {line.need.thing for line in cart.trays} | {line.need.thing for line in cart.goods}
    off = [line.piece for line in work.take_off]
    gone = [_label(piece) for piece in off if piece.wanted not in wanted]
    fresh = [_label(line.piece) for line in work.add if line.piece.wanted not in {piece.wanted for piece in off}]
    reasons = [words.no_longer_wanted(gone)] if gone else []
    reasons += [_why_off(plan, cart, piece, leaving) for piece in off if piece.wanted in wanted]
    reasons += [words.now_wanted(fresh)] if fresh else []
    reasons += [words.now_to_be(_label(mark.after), mark.after.part.value) for mark in work.remark]
    return tuple(dict.fromkeys(reasons))


def _label(piece: CartThing) -> str:
    return piece.set_id or piece.name or piece.thing


def _why_off(plan: Plan, cart: Cart, piece: CartThing, leaving: Collection[str]) -> str:
    return _why_set_off(plan, cart, piece, leaving) if piece.set_id else _why_item_off(cart, piece)


def _why_set_off(plan: Plan, cart: Cart, piece: CartThing, leaving: Collection[str]) -> str:
    one = next((s for s in plan.sets if s.id == piece.set_id), None)
    if one is None:
        return words.set_gone(piece.set_id)
    if one.state in NEVER_AVAILABLE or one.is_in_process:
        return words.set_recorded(one.id, one.state)
    if one.recorded_until and one.recorded_until < cart.case.start:
        return words.set_expires(one.id)
    sides = [line.need.side for line in cart.trays if line.need.thing == piece.wanted]
    if one.side and not any(one.serves_side(side) for side in sides):
        return words.other_side(one.id, one.side, [side for side in sides if side])
    for conflict in plan.conflicts:
        touches = cart.case.number in conflict.cases
        if touches and (conflict.set_id == piece.set_id or conflict.tray == piece.wanted):
            return f"{piece.set_id}: {statement(conflict, plan.settings.site_clock)}"
    first = [reuse.giver for reuse in plan.reuses if (reuse.set_id, reuse.waiter) == (one.id, cart.case.number)]
    if any(first):
        return words.set_first(one.id, first[0])
    if one.id in leaving:
        return words.set_left(one.id)
    others = (other for other in plan.carts if other is not cart)
    has_it = (other.case.number for other in others if any(line.set_id == piece.set_id for line in other.trays))
    return words.set_taken(piece.set_id, next(has_it, ""))


def _why_item_off(cart: Cart, piece: CartThing) -> str:
    lines = [line for line in cart.goods if line.need.thing == piece.wanted]
    if piece.stands_in:
        return words.not_instead(_label(piece), next((line.need.name for line in lines), piece.wanted))
    if is_past(piece.expiry, cart.case.day):
        return words.lot_expires(_label(piece), piece.lot)
    if any(line.is_short for line in lines):
        return words.item_short(_label(piece))
    lots = sorted({pick.lot for line in lines for pick in line.picks} - {piece.lot})
    return words.other_lot(_label(piece), lots, piece.lot) if lots else words.fewer(_label(piece))
