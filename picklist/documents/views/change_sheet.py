"""The sheet of changes: what a revision means for every cart of the one it replaces."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from picklist import wording
from picklist.documents.views.change_lines import MoveRow, StayRow, stays, to_add, to_take_off
from picklist.documents.views.change_words import SaidRow, change_word, head_rows, other_lines, set_rows
from picklist.documents.views.list_change import taken_from_others
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.put_back import CAUTION, PutBackCart, put_back
from picklist.documents.views.renumbered import QuestionBlock, note_line, question_blocks
from picklist.documents.views.stamp import PageFoot, printing_of, stamp_for
from picklist.evening.changes import CartChange, CartChangeKind, PlanChange
from picklist.model.plan import Cart
from picklist.model.schedule import Case

WORK, PAPER = "CHANGE", "LIST ONLY"
KINDS = {  # at a glance: the word, and what to do
    "ASK FIRST": "leave these carts alone until the question is answered",
    "ON HOLD": "do not build; mark a started cart ON HOLD and leave it",
    "CANCELLED": "put everything back; the list is at the end",
    WORK: "add, take off or re-mark items: see below and the new list",
    "NEW CART": "build it from its list",
    PAPER: "swap the old list for the new one; the items stay",
    "OVER": "the cases are done: report what was used",
    "UNCHANGED": "nothing to do; the lists stay as they are",
}
DONE = {
    WORK: ("old list off, new list and label on", "cart checked"),
    "NEW CART": ("built",),
    "ON HOLD": ("old list off, cart marked ON HOLD",),
}
BUILT = "This cart is built. Change it as follows:"
NOT_BUILT = "Not reported as built. If started, make these changes; if not, build from the new list."
NO_WORK = "The items on the cart stay the same."
NEW = "Build it from its list. Take these from other carts if they are there already:"
NEW_ALONE = "Build it from its list. It takes nothing from another cart."
STOPPED = "On hold: do not build. Mark a started cart ON HOLD and leave it."
UNREAD = (
    "Part of the schedule cannot be read, and this case may be there. Leave the cart as it is, marked ON HOLD; put "
    "nothing back. Correct the schedule and build again."
)
ASKED_OLD = "Leave this cart as it is until the question is answered."
ASKED_NEW = "This may be a cart that exists already. Start it only if the answer is that it is new."


@dataclass(frozen=True, slots=True, kw_only=True)
class KindLine:
    """Carts of one kind at a glance, each as case and hour, and whether it was reported built."""

    word: str
    number: str
    do: str
    carts: tuple[tuple[str, bool], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CartBlock:
    """One cart that is touched, or whose list alone is new (``work`` False)."""

    word: str
    work: bool
    case: str
    room: str
    start: str
    complete_by: str
    surgeon: str
    which_list: str
    built: bool
    say: str
    gives: tuple[tuple[str, tuple[str, ...]], ...]  # cart and what a new one takes from it
    reasons: tuple[str, ...]
    head: tuple[SaidRow, ...]
    add: tuple[MoveRow, ...]
    take_off: tuple[MoveRow, ...]
    stays: tuple[StayRow, ...]
    missing: tuple[MoveRow, ...]
    others: tuple[str, ...]
    done: tuple[str, ...]  # acts to tick off


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangesView:
    """The whole sheet; ``set_news`` are sets on lists that stay, which are elsewhere now."""

    stamp: PageFoot
    title: str
    counts: str
    glance: tuple[KindLine, ...]
    questions: tuple[QuestionBlock, ...]
    notes: tuple[str, ...]
    carts: tuple[CartBlock, ...]
    lists: tuple[CartBlock, ...]
    set_news: tuple[tuple[str, SaidRow], ...]
    put_back: tuple[PutBackCart, ...]
    caution: str = CAUTION


def changes(found: Lookup, change: PlanChange) -> ChangesView:
    """What a revision changes: carts that were reported built first, then by when they must be complete."""
    maker = _ChangeSheet(found, change)
    blocks = maker.blocks()
    return ChangesView(
        stamp=stamp_for(found.plan, printing_of(found.plan), found.clock),
        title=f"Changes for {found.clock.day_text(found.day)}",
        counts=f"Revision {change.revision} replaces revision {change.old_revision}",
        glance=maker.glance(),
        questions=question_blocks(found, change),
        notes=tuple(note_line(note) for note in change.notes),
        carts=tuple(one for one in blocks if one.work),
        lists=tuple(one for one in blocks if not one.work),
        set_news=maker.set_news(),
        put_back=put_back(found, change),
    )


def kind_word(one: CartChange) -> str:
    """What becomes of a cart in a word or two, at a glance."""
    if one.kind is CartChangeKind.CHANGED:
        return WORK if has_work(one) else PAPER
    return change_word(one.kind)


def has_work(one: CartChange) -> bool:
    """Whether something goes on or off a cart, or must be marked otherwise."""
    return bool(one.add or one.take_off or one.remarks)


class _ChangeSheet:
    """The parts of one sheet."""

    def __init__(self, found: Lookup, change: PlanChange) -> None:
        self._found = found
        self._change = change
        self._carts: Mapping[str, Cart] = {cart.case.number: cart for cart in found.plan.carts}
        self._olds: Mapping[str, Case] = {case.number: case for case in change.old_cases}

    def glance(self) -> tuple[KindLine, ...]:
        """Carts by what becomes of them, the most pressing kind first."""
        lines = []
        for word, do in KINDS.items():
            carts = [one for one in self._change.carts if kind_word(one) == word]
            if carts:
                names = tuple((self._short_name(one), one.built) for one in carts)
                lines.append(KindLine(word=word, number=str(len(carts)), do=do, carts=names))
        return tuple(lines)

    def _short_name(self, one: CartChange) -> str:
        case = self._case(one)
        if case is None or one.kind in (CartChangeKind.UNCHANGED, CartChangeKind.OVER):
            return one.case
        former = " (former)" if one.kind is CartChangeKind.ASKED and one.old_case else ""
        return f"{one.case}{former} {case.room} {self._found.when(case.start)}"

    def _case(self, one: CartChange) -> Case | None:
        cart = self._carts.get(one.case)
        return cart.case if cart and one.is_live else self._olds.get(one.old_case)

    def blocks(self) -> tuple[CartBlock, ...]:
        """A block for each cart that is touched, but those to put back."""
        untouched = (CartChangeKind.UNCHANGED, CartChangeKind.CANCELLED, CartChangeKind.OVER)
        touched = [one for one in self._change.carts if one.kind not in untouched]
        return tuple(self._block(one) for one in sorted(touched, key=lambda one: not one.built))

    def _block(self, one: CartChange) -> CartBlock:
        found, case = self._found, self._case(one)
        cart = self._carts.get(one.case) if one.is_live else None
        whole_list = one.old_case == ""
        return CartBlock(
            word=kind_word(one),
            work=kind_word(one) != PAPER,
            case=one.case,
            room=case.room if case else "",
            start=found.when(case.start) if case else "",
            complete_by=found.when(cart.complete_by) if cart else "",
            surgeon=(cart.surgeon_name if cart else found.person(case.surgeon)) if case else "",
            which_list=_list_words(one),
            built=one.built,
            say=_say(one),
            gives=taken_from_others(found, one) if whole_list else (),
            reasons=tuple(wording.capital(reason) for reason in one.reasons),
            head=head_rows(found, one.details),
            add=() if whole_list else to_add(found, one.add, one.case),
            take_off=to_take_off(found, one.take_off),
            stays=stays(found, one.remarks),
            missing=to_add(found, one.still_missing),
            others=other_lines(found, one.details, (*one.add, *one.take_off)),
            done=("cart marked ON HOLD",) if one.kind is CartChangeKind.UNREAD else DONE.get(kind_word(one), ()),
        )

    def set_news(self) -> tuple[tuple[str, SaidRow], ...]:
        """Where sets on lists that stay are now, when that is news."""
        return tuple(
            (self._found.case_in_room(one.case), row)
            for one in self._change.carts
            if not one.prints
            for row in set_rows(self._found, one.whereabouts)
        )


def _list_words(one: CartChange) -> str:
    if one.kind is CartChangeKind.UNREAD or (one.kind is CartChangeKind.ASKED and one.old_case):
        return f"list {one.revision} stays"
    if one.kind is CartChangeKind.STOPPED:
        return "no list" if one.replaces is None else f"discard list {one.replaces}"
    return f"list {one.revision}" + ("" if one.replaces is None else f" replaces list {one.replaces}")


def _say(one: CartChange) -> str:
    if one.kind is CartChangeKind.ASKED:
        return ASKED_OLD if one.old_case else ASKED_NEW
    if one.kind is CartChangeKind.STOPPED:
        return STOPPED
    if one.kind is CartChangeKind.UNREAD:
        return UNREAD
    if one.kind is CartChangeKind.NEW:
        return NEW if any(line.cart for line in one.add) else NEW_ALONE
    if not has_work(one):
        return NO_WORK
    return BUILT if one.built else NOT_BUILT
