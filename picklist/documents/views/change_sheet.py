"""The sheet of changes: what a revision means for every cart of the one it replaces."""

from __future__ import annotations

from picklist import wording
from picklist.documents.views.change_lines import stays, to_add, to_take_off
from picklist.documents.views.change_words import ASKED_NEW, built_words, change_word, head_rows, other_lines, set_rows
from picklist.documents.views.finished_words import View
from picklist.documents.views.list_change import taken_from_others
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.stamp import stamp_for
from picklist.evening.changes import CartChange, CartChangeKind, PlanChange
from picklist.evening.match import MatchNote, NoteKind
from picklist.grouping import grouped
from picklist.model.known import Candidate, MatchQuestion
from picklist.model.schedule import Case

WORK, OPEN, PAPER = "CHANGE", "STILL OPEN", "LIST ONLY"
KINDS = {  # at a glance: the word, and what to do
    "ASK FIRST": "leave these carts alone until the question is answered",
    "ON HOLD": "do not build; mark a started cart ON HOLD and leave it",
    "CANCELLED": "put everything back; the list is at the end",
    WORK: "add, take off or re-mark items: see below and the new list",
    OPEN: "changes of a list in hand, not reported as made: see below",
    "NEW CART": "build it from its list",
    PAPER: "swap the old list for the new one; the items stay",
    "OVER": "the cases are done: report what was used",
    "UNCHANGED": "nothing to do; the lists stay as they are",
}
DONE = {
    WORK: ("old list off, new list and label on", "cart checked"),
    OPEN: ("cart checked",),
    "NEW CART": ("built",),
    "ON HOLD": ("old list off, cart marked ON HOLD",),
}
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

CAUTION = "Before you put an item back, check the package (whole and dry), the indicator, the lock and the expiry."
NOTE_WORDS = {
    NoteKind.RENUMBERED: "{old} is now {new}; its cart is kept.",
    NoteKind.NUMBER_REUSED: "Case number {new} now belongs to a different case.",
    NoteKind.ROOM_RENAMED: "Room {old} is now called {new}.",
    NoteKind.SPLIT: "{old} was split into {new}.",
    NoteKind.JOINED: "{old} were joined into {new}.",
}


class KindLine(View):
    """Carts of one kind at a glance, each as case and hour, and whether it was reported built."""

    def __init__(self, found: Lookup, word: str, carts: list[CartChange], change: PlanChange) -> None:
        self.word = word
        self.number = str(len(carts))
        self.do = KINDS[word]
        self.carts = tuple((_short_name(found, one, change), one.built) for one in carts)


class CartBlock(View):
    """One cart that is touched, or whose list alone is new (``work`` False).

    ``gives``: each cart, and what a new one takes from it; ``done``: acts to tick off.
    """

    def __init__(self, found: Lookup, one: CartChange, change: PlanChange) -> None:
        case = _case(found, one, change)
        cart = found.plan.cart(one.case) if one.is_live else None
        whole_list = one.old_case == ""
        self.word = kind_word(one)
        self.work = self.word != PAPER
        self.case = one.case
        self.room = case.room if case else ""
        self.start = found.when(case.start) if case else ""
        self.complete_by = found.when(cart.complete_by) if cart else ""
        self.surgeon = (cart.surgeon_name if cart else found.person(case.surgeon)) if case else ""
        self.which_list = _list_words(one)
        self.built = one.built
        self.say = _say(one)
        self.gives = taken_from_others(found, one) if whole_list else ()
        self.reasons = tuple(wording.capital(reason) for reason in one.reasons)
        self.head = head_rows(found, one.details)
        self.add = () if whole_list else to_add(found, one.add, one.case)
        self.take_off = to_take_off(found, one.take_off)
        self.stays = stays(found, one.remarks)
        self.missing = to_add(found, one.still_missing)
        self.others = other_lines(found, one.details, (*one.add, *one.take_off))
        unread = one.kind is CartChangeKind.UNREAD
        self.done = ("cart marked ON HOLD",) if unread else DONE.get(self.word, ())


class CandidateLine(View):
    """A former case that a new one may be: how it stood, what agrees, what differs, how to say yes."""

    def __init__(self, found: Lookup, new_case: str, one: Candidate, former: Case | None) -> None:
        self.case = one.old_case
        self.was = _as_it_stood(found, former)
        self.agrees = wording.listed(one.agrees) or wording.NONE
        self.differs = wording.listed(one.differs) or wording.NONE
        self.answer = _answer(new_case, one.old_case)


class QuestionBlock(View):
    """A case of the new schedule and the former ones that it may be, the likeliest first."""

    def __init__(self, found: Lookup, question: MatchQuestion, change: PlanChange) -> None:
        self.case = new = question.new_case
        self.now = _as_it_stood(found, found.cases.get(new))
        self.candidates = tuple(
            CandidateLine(found, new, one, change.old_case(one.old_case)) for one in question.candidates
        )
        self.ask = (
            f"Is {new} still the same case?"
            if any(one.old_case == new for one in question.candidates)
            else f"Was {new} on the former schedule under another number?"
        )
        self.answer_new = _answer(new, "")


def _as_it_stood(found: Lookup, case: Case | None) -> str:
    if case is None:
        return ""
    parts = (case.room, found.when(case.start), found.person(case.surgeon), found.procedures(case.procedures))
    return wording.joined(*parts, by=" · ")


def _answer(new: str, old: str) -> str:
    return f'--same "{new}={old}"'


def note_line(note: MatchNote) -> str:
    """What a reader should know of how the schedules match, in a sentence."""
    return NOTE_WORDS[note.kind].format(old=wording.listed(note.old), new=wording.listed(note.new))


class PutBackCart(View):
    """One cancelled cart; rows that go to another cart first, then in walking order."""

    def __init__(self, found: Lookup, change: CartChange, case: Case | None) -> None:
        rows = to_take_off(found, change.take_off) if change.stands else ()
        self.case = change.case
        self.room = case.room if case else ""
        self.start = found.when(case.start) if case else ""
        self.surgeon = found.person(case.surgeon) if case else ""
        self.say = _say_put_back(found, change)
        self.built = change.built
        self.to_carts = tuple(row for row in rows if row.cart)
        self.to_places = tuple(row for row in rows if not row.cart)


def _say_put_back(found: Lookup, change: CartChange) -> str:
    why = f"moved to {found.clock.day_text(change.moved_to)}" if change.moved_to else "no longer on the schedule"
    if not change.take_off:
        return f"{wording.capital(why)}. Its list had nothing to put back."
    if change.built:
        return f"{wording.capital(why)}. This cart is built: take all of this off."
    if change.started:
        return f"{wording.capital(why)}. This cart is started: put back what is on it."
    return f"{wording.capital(why)}. Not reported as started: nothing to put back. If it was started, use its list."


class ChangesView(View):
    """The whole sheet: carts that were reported built first, then by when they must be complete.

    ``set_news`` are sets on lists that stay, which are elsewhere now.
    """

    def __init__(self, found: Lookup, change: PlanChange) -> None:
        blocks = [CartBlock(found, one, change) for one in _touched(change)]
        self.stamp = stamp_for(found.plan)
        self.title = f"Changes for {found.clock.day_text(found.day)}"
        self.counts = f"Revision {change.revision} replaces revision {change.old_revision}"
        self.glance = _glance(found, change)
        self.questions = tuple(QuestionBlock(found, question, change) for question in change.questions)
        self.notes = tuple(note_line(note) for note in change.notes)
        self.carts = tuple(one for one in blocks if one.work)
        self.lists = tuple(one for one in blocks if not one.work)
        self.set_news = tuple(
            (found.case_in_room(one.case), row)
            for one in change.carts
            if not one.prints
            for row in set_rows(found, one.whereabouts)
        )
        cancelled = (one for one in change.carts if one.kind is CartChangeKind.CANCELLED)
        self.put_back = tuple(PutBackCart(found, one, change.old_case(one.case)) for one in cancelled)
        self.caution = CAUTION


def kind_word(one: CartChange) -> str:
    """What becomes of a cart in a word or two, at a glance."""
    if one.kind is CartChangeKind.CHANGED:
        return WORK if one.has_work or one.takes_back else PAPER
    return OPEN if one.is_open else change_word(one.kind)


def _glance(found: Lookup, change: PlanChange) -> tuple[KindLine, ...]:
    """Carts by what becomes of them, the most pressing kind first."""
    kinds = grouped((kind_word(one), one) for one in change.carts)
    return tuple(KindLine(found, word, kinds[word], change) for word in KINDS if word in kinds)


def _touched(change: PlanChange) -> list[CartChange]:
    """The carts that are touched, but those to put back."""
    untouched = (CartChangeKind.UNCHANGED, CartChangeKind.CANCELLED, CartChangeKind.OVER)
    touched = [one for one in change.carts if one.kind not in untouched or one.is_open]
    return sorted(touched, key=lambda one: not one.built)


def _short_name(found: Lookup, one: CartChange, change: PlanChange) -> str:
    case = _case(found, one, change)
    if case is None or kind_word(one) in ("UNCHANGED", "OVER"):
        return one.case
    former = " (former)" if one.kind is CartChangeKind.ASKED and one.old_case else ""
    return f"{one.case}{former} {case.room} {found.when(case.start)}"


def _case(found: Lookup, one: CartChange, change: PlanChange) -> Case | None:
    cart = found.plan.cart(one.case) if one.is_live else None
    return cart.case if cart else change.old_case(one.old_case)


def _list_words(one: CartChange) -> str:
    if one.kind is CartChangeKind.UNREAD or one.is_open or (one.kind is CartChangeKind.ASKED and one.old_case):
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
    if not (one.has_work or one.takes_back):
        return NO_WORK
    return built_words(one) if one.built else NOT_BUILT
