"""Scans, one by one, as reports on carts: each is answered and kept before the next is read.

A line is one scan or one word with what follows it; words may be scanned from a card too, then
what follows comes on the next lines. Capital and small letters are the same.

    C-1041.R3           (a cart's label) opens that cart; CART C-1041 does so by hand
    KNEE-02             this set is on the cart
    100245              one of this item is on the cart (also its GTIN, or its GS1 or HIBC label)
    TIMES 3             it was three of the item scanned last, all together
    MISSING 100245 2    two of it did not come (all of them without a number; a tray or set too)
    FOUND 100245 1      one of what was missing is on the cart now (all of it without a number)
    INSTEAD x y 1       one of y was taken in place of x; without a number, all
    COUNT 100245 14     the shelf held fourteen
    BY mk   AT 21:40    who built it, and when
    NOTE ...            anything the next shift should know
    DONE                the cart is built
    UNDO                undoes the last line, on this cart only
    # ...               is not read
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Protocol

from picklist.clock import SiteClock
from picklist.evening.add_reports import of_newer_list, only_new, with_trays_to_come
from picklist.evening.check_facts import check_facts, sets_in_two_places
from picklist.evening.crew_workbook import last_time
from picklist.evening.keep_facts import ReportedMeanwhileError
from picklist.evening.scan_acts import MOST, MOST_DIGITS, Acts, LotKey, Said
from picklist.evening.scan_answers import as_problem
from picklist.evening.scan_book import ScanBook
from picklist.labels.label import Label
from picklist.labels.reading import Layout, as_meant, other_readings, without_marks
from picklist.letters import whole_number
from picklist.model.built import BuiltCart, TakenItem
from picklist.model.plan import Cart
from picklist.model.scan_answer import ScanAnswer, ScanKind, Weight
from picklist.problems import Problem, Where, to_fix
from picklist.tables.columns import CellType, Column
from picklist.tables.nearest import Candidates
from picklist.tables.parse_times import parse_time_cell

# How many things must follow a word when it is scanned alone, and what they are.
WORDS = {
    "CART": ("the case number",),
    "TIMES": ("how many there are in all",),
    "MISSING": ("what is missing",),
    "FOUND": ("what was found",),
    "INSTEAD": ("what the list asks for", "what was taken in its place"),
    "COUNT": ("the item", "how many the shelf held"),
    "BY": ("your initials",),
    "AT": ("the time",),
    "NOTE": ("the remark",),
    "DONE": (),
    "UNDO": (),
}
TRIES = 3  # with which a scan goes after what others report on the same cart
_TIME = Column(name="at", type=CellType.TIME, help="a time of day")


class CartReports(Protocol):
    """Where the reports on carts are kept."""

    def book(self) -> ScanBook:
        """What may be scanned now, by the lists that count now."""

    def reported(self) -> Mapping[str, BuiltCart]:
        """The last report on each cart, by case number."""

    def keep(self, facts: BuiltCart, over: BuiltCart | None, *, by: str, going_on: bool) -> BuiltCart:
        """Keep a report made from the report ``over``; it as it is kept. Raises ReportedMeanwhileError."""

    def forget(self, case: str) -> None:
        """Drop what was kept of a cart since it was opened."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Step:
    """Where a sitting at a cart stood before a scan, and what the scan was answered."""

    facts: BuiltCart
    scanned: Counter[LotKey]
    signed: str
    timed: bool
    answer: ScanAnswer


_Last = tuple[TakenItem, _Step]  # an item, and where its sitting stood before it was scanned


@dataclass(slots=True, kw_only=True)
class _Sitting:
    """One cart from its label to the next one.

    ``revision`` is that of its label; ``known`` is the last report that is kept, ``opened`` the one to go on
    from and ``facts`` the one that stands now; ``scanned`` is what was scanned since the label by lot,
    ``last`` the item scanned just now.
    """

    case: str
    revision: int
    known: BuiltCart | None
    opened: BuiltCart
    facts: BuiltCart
    opening: ScanAnswer
    scanned: Counter[LotKey] = field(default_factory=Counter)
    signed: str = ""
    timed: bool = False
    last: _Last | None = None
    steps: list[_Step] = field(default_factory=list)
    closed: bool = False
    overtaken: bool = False  # somebody else reported on the cart since
    was_built: bool = False  # DONE was said, which stays in the history though it is undone


@dataclass(slots=True, kw_only=True)
class ScanSession:
    """Takes scans and answers each; ``now`` gives the instant of a scan, ``name`` is what they come from."""

    reports: CartReports
    clock: SiteClock
    now: Callable[[], datetime]
    name: str = "scans"
    problems: list[Problem] = field(default_factory=list)
    touched: dict[str, BuiltCart] = field(default_factory=dict)
    _waiting: tuple[str, ...] = ()
    _sitting: _Sitting | None = None
    _row: int = 0
    _layout: Layout | None = None  # the last with which a scan made sense that makes none as it came

    def take(self, line: str) -> tuple[ScanAnswer, ...]:
        """The answers to one line, the main one first where there is one; nothing for an empty line."""
        self._row += 1
        text = without_marks(line)
        if not text or text.startswith("#"):
            return ()
        meant, about = self._as_meant(text)
        return self._told(about if meant is None else (*self._take(meant), *about))

    def end(self) -> tuple[ScanAnswer, ...]:
        """Close what is open when no more scans come."""
        answers: list[ScanAnswer] = []
        if self._waiting:
            answers.append(self._answer(ScanKind.BROKEN_OFF, Weight.REFUSED, thing=self._waiting[0]))
        self._waiting = ()
        self._row = 0
        return self._told((*answers, *self._leave()))

    @property
    def open_case(self) -> str:
        """The case of the cart that is open; empty when there is none."""
        sitting = self._sitting
        return sitting.case if sitting and not sitting.closed else ""

    def _told(self, answers: tuple[ScanAnswer, ...]) -> tuple[ScanAnswer, ...]:
        self.problems += (problem for one in answers if (problem := as_problem(one, self.clock)))
        return answers

    def _as_meant(self, text: str) -> tuple[str | None, tuple[ScanAnswer, ...]]:
        """A scan as the scanner meant it, where its keys came through another layout, and a word about it.

        None where it may be one thing or another: then nothing is guessed.
        """
        if text.partition(" ")[0].upper() in WORDS:
            return text, ()
        book = self.reports.book()
        own = book.meaning(text)
        if own is not None:
            other = as_meant(text, self._layout) if self._layout else text
            meant = book.meaning(other)
            if meant is None or meant == own or book.knows_lot(text):
                return text, ()
            readings = [(self._layout, other)] if book.knows_lot(other) else [(None, text), (self._layout, other)]
        else:
            known = {m: one for one in other_readings(text) if (m := _known(book, one[1])) is not None}
            readings = list(known.values())
        if not readings:
            return text, ()
        if len(readings) > 1:
            things = tuple(reading for _, reading in readings)
            return None, (self._answer(ScanKind.TWO_READINGS, Weight.REFUSED, things=things),)
        [(self._layout, reading)] = readings
        assert self._layout is not None
        country, computers = self._layout
        name = f"{'this computer' if computers else 'the scanner'}: {country}"
        return reading, (self._answer(ScanKind.OTHER_LAYOUT, Weight.LOOK, thing=reading, name=name),)

    def _take(self, text: str) -> tuple[ScanAnswer, ...]:
        word, _, rest = text.partition(" ")
        word = word.upper()
        if self._waiting:
            return self._take_waited(text)
        if word in WORDS and len(rest.split()) < len(WORDS[word]):
            return self._wait(word, *rest.split())
        if word == "UNDO":
            return self._undo()
        return self._act(word, rest.strip()) if word in WORDS else self._act("", text)

    def _wait(self, word: str, *rest: str) -> tuple[ScanAnswer, ...]:
        self._waiting = (word, *rest)
        return (self._answer(ScanKind.ASKS, scan=word, name=WORDS[word][len(rest)]),)

    def _take_waited(self, text: str) -> tuple[ScanAnswer, ...]:
        """A line that a word before it waits for; another word or a cart's label breaks the wait off."""
        word, *rest = self._waiting
        self._waiting = ()
        if text.upper() == "UNDO":
            return (self._answer(ScanKind.UNDONE, scan=word),)
        if text.upper() in WORDS or (word != "CART" and self.reports.book().opens(text)):
            return (self._answer(ScanKind.BROKEN_OFF, Weight.REFUSED, thing=word, scan=text), *self._take(text))
        rest = [*rest, text]
        return self._wait(word, *rest) if len(rest) < len(WORDS[word]) else self._act(word, " ".join(rest))

    def _act(self, word: str, rest: str) -> tuple[ScanAnswer, ...]:
        book = self.reports.book()
        if word == "CART" or (not word and book.opens(rest)):
            return self._open(book, rest)
        sitting = self._sitting
        unsigned = sitting is not None and sitting.closed and not sitting.facts.by  # people sign last
        if sitting is None or (sitting.closed and not (word == "BY" and unsigned)):
            return (self._answer(ScanKind.NO_CART, Weight.REFUSED, scan=rest or word),)
        cart = book.cart(sitting.case)
        if cart is None or cart.stopped:  # a build took it away meanwhile
            self._sitting = None
            kind = ScanKind.LIST_STOPPED if cart else ScanKind.UNKNOWN_CASE
            return (self._answer(kind, Weight.REFUSED, case=sitting.case, scan=rest),)
        for _ in range(TRIES):
            self._catch_up(sitting)
            with suppress(ReportedMeanwhileError):
                return self._change(sitting, self._acts(sitting, book, cart, word, rest))
        return (self._answer(ScanKind.OVERTAKEN, Weight.REFUSED, case=sitting.case, scan=rest),)

    def _open(self, book: ScanBook, text: str) -> tuple[ScanAnswer, ...]:
        """A cart's label: whatever becomes of it, the cart before it is closed."""
        case, revision = book.opens(text) or (text, 0)
        cart = book.cart(case)
        sitting = self._sitting
        if cart and sitting and not sitting.closed and sitting.case == cart.case.number:
            return (replace(sitting.opening, kind=ScanKind.OPEN_ALREADY, where=self._where()),)
        left = self._leave()
        self._sitting = None
        if cart is None:
            near = Candidates(c.case.number for c in book.plan.carts).nearest(case)
            refused = self._answer(ScanKind.UNKNOWN_CASE, Weight.REFUSED, case=case, scan=case, nearest=near)
            return (*left, refused)
        number = cart.case.number
        if cart.stopped:
            return (*left, self._answer(ScanKind.LIST_STOPPED, Weight.REFUSED, case=number, scan=number))
        counts = book.revisions.get(number, book.plan.revision)
        fresh = BuiltCart(
            day=cart.case.day, case=number, revision=revision or counts, at=self.now(), where=self._where()
        )
        before = self.reports.reported().get(number)
        facts = _gone_on(before, fresh, cart) if before else fresh
        opening = self._opened(cart, fresh.revision, before)
        self._sitting = sitting = _Sitting(
            case=number, revision=fresh.revision, known=before, opened=facts, facts=facts, opening=opening
        )
        answers = [*left, opening]
        if fresh.revision != counts:
            older = self._answer(ScanKind.OLDER_LIST, Weight.LOOK, case=number, scan=text)
            answers.append(replace(older, revision=fresh.revision, counts=counts))
        return (*answers, *self._acts(sitting, book, cart).all_missing(facts))

    def _opened(self, cart: Cart, revision: int, before: BuiltCart | None) -> ScanAnswer:
        return replace(
            self._answer(ScanKind.OPENED, case=cart.case.number),
            quantity=len(cart.trays),
            listed=len(cart.goods),
            revision=revision,
            before=0 if before is None else 1 + before.done,
            who=before.by if before else "",
            at=before.at if before else None,
        )

    def _leave(self) -> tuple[ScanAnswer, ...]:
        """Close the cart that is open: what was scanned counts, and a cart that was only opened is started."""
        sitting = self._sitting
        if sitting is None or sitting.closed:
            return ()
        self._catch_up(sitting)
        with suppress(ReportedMeanwhileError):
            self._keep(sitting, sitting.facts, going_on=False)
        sitting.closed = True
        if sitting.facts.done:
            return ()
        return (self._answer(ScanKind.LEFT_OPEN, Weight.LOOK, case=sitting.case, scan=sitting.case),)

    def _acts(self, sitting: _Sitting, book: ScanBook, cart: Cart, word: str = "", rest: str = "") -> Acts:
        return Acts(
            word=word,
            rest=rest,
            book=book,
            cart=cart,
            facts=sitting.facts,
            opened=sitting.opened,
            scanned=sitting.scanned,
            where=self._where(),
            now=self.now(),
            built_at=sitting.facts.at if sitting.timed or sitting.facts.done else self.now(),
            revision=sitting.revision,
        )

    def _change(self, sitting: _Sitting, acts: Acts) -> tuple[ScanAnswer, ...]:
        word, rest = acts.word, acts.rest
        step = self._step(sitting, acts)
        last, sitting.last = sitting.last, None
        label = None if word else acts.book.lot_label(rest)
        if word == "TIMES":
            changed, answers = self._times(sitting, acts, last)
        elif label:
            changed, answers, last = self._lot(sitting, acts, label, last)
        elif word in ("BY", "AT"):
            changed, answers = self._by(sitting, rest) if word == "BY" else self._at(sitting, rest)
        else:
            changed, answers = _ACTS[word](acts, rest)
        changed = with_trays_to_come(changed, sitting.opened, acts.cart)
        answers = self._checked(sitting, changed, acts, answers)
        if not answers[0].recorded:
            self._back_to(sitting, step)
            return answers
        try:
            self._keep(sitting, changed, going_on=not (sitting.closed or word == "DONE"))
        except ReportedMeanwhileError:
            self._back_to(sitting, step)
            raise
        sitting.closed |= word == "DONE"
        sitting.was_built |= sitting.closed
        if sitting.facts != step.facts or sitting.scanned != step.scanned or word in ("BY", "AT"):
            sitting.steps.append(replace(step, answer=answers[0]))
        if answers[0].kind in ITEM_KINDS:
            sitting.last = last if label or word == "TIMES" else self._last(acts, step)
        return answers

    def _last(self, acts: Acts, step: _Step) -> _Last | None:
        one, _ = acts.book.item(acts.rest, self._where())
        return (one, step) if one else None

    @staticmethod
    def _back_to(sitting: _Sitting, step: _Step) -> None:
        sitting.scanned, sitting.signed, sitting.timed = step.scanned, step.signed, step.timed

    def _step(self, sitting: _Sitting, acts: Acts) -> _Step:
        return _Step(
            facts=sitting.facts,
            scanned=Counter(sitting.scanned),
            signed=sitting.signed,
            timed=sitting.timed,
            answer=self._answer(ScanKind.UNDONE, scan=acts.rest or acts.word),
        )

    def _times(self, sitting: _Sitting, acts: Acts, last: _Last | None) -> Said:
        """The item scanned last was so many, all together: its scan is done anew with that number."""
        number = whole_number(acts.rest, MOST_DIGITS)
        if last is None or not number or number > MOST:
            name = f"TIMES needs a whole number from 1 to {MOST}, right after an item was scanned"
            return sitting.facts, (self._answer(ScanKind.NOT_A_NUMBER, Weight.REFUSED, scan=acts.rest, name=name),)
        one, before = last
        sitting.scanned = Counter(before.scanned)
        return replace(acts, facts=before.facts, scanned=sitting.scanned).take_items(one, number)

    def _lot(
        self, sitting: _Sitting, acts: Acts, label: Label, last: _Last | None
    ) -> tuple[BuiltCart, tuple[ScanAnswer, ...], _Last | None]:
        """A second label of the item scanned last, with lot, expiry or serial: that scan is done anew with them.

        The second label of HIBC ends in the check character of the first, and in its own.
        """
        both = last and ((label.lot and last[0].lot) or (label.serial and last[0].serial))
        fits = last and not both and last[1].answer.scan.endswith(label.link)
        if last is None or not fits:
            name = "this label names no item: scan it right after the label that does"
            return sitting.facts, (self._answer(ScanKind.UNKNOWN_SCAN, Weight.REFUSED, name=name),), None
        one, before = last
        named = replace(
            one, lot=label.lot or one.lot, expiry=label.expiry or one.expiry, serial=label.serial or one.serial
        )
        many = sitting.scanned.total() - before.scanned.total()
        sitting.scanned = Counter(before.scanned)
        again = replace(acts, facts=before.facts, scanned=sitting.scanned)
        return *again.take_items(named, many), (named, before)

    def _by(self, sitting: _Sitting, text: str) -> Said:
        before = sitting.opened.by
        names = dict.fromkeys(part for part in (*before.split(", "), text) if part)
        sitting.signed = text
        by = ", ".join(names)
        return replace(sitting.facts, by=by), (self._answer(ScanKind.BY, who=by, case=sitting.case),)

    def _at(self, sitting: _Sitting, text: str) -> Said:
        wall, fault = parse_time_cell(_TIME, text)
        if fault:
            problem = to_fix(fault.kind, self._where(), fault.message, expected=fault.expected, nearest=fault.nearest)
            return sitting.facts, (self._answer(ScanKind.CHECKED, Weight.REFUSED, scan=text, problem=problem),)
        at = last_time(self.clock, wall, self.now())
        sitting.timed = True
        return replace(sitting.facts, at=at), (self._answer(ScanKind.AT, at=at, case=sitting.case),)

    def _checked(
        self, sitting: _Sitting, changed: BuiltCart, acts: Acts, answers: tuple[ScanAnswer, ...]
    ) -> tuple[ScanAnswer, ...]:
        """The answers with what is wrong in what was added; the first one refuses what cannot be."""
        changed = replace(changed, case=sitting.case)
        new = only_new(changed, sitting.facts)
        kept, problems = check_facts([new], acts.book.plan, acts.book.site)
        if kept != (new,):  # it cannot be, or holds what may not be kept
            return tuple(
                self._answer(ScanKind.CHECKED, Weight.REFUSED, case=sitting.case, scan=acts.rest, problem=p)
                for p in problems
            )
        others = [one for case, one in self.reports.reported().items() if case != sitting.case]
        taken = {one.set_id for one in new.sets}
        doubled = (p for p in sets_in_two_places([*others, changed], of=sitting.case) if p.value in taken)
        found = (
            self._answer(ScanKind.CHECKED, Weight.FIX, case=sitting.case, scan=acts.rest, problem=p)
            for p in (*problems, *doubled)
        )
        return (*answers, *found)

    def _catch_up(self, sitting: _Sitting) -> None:
        """Go on from what somebody else reported on this cart meanwhile; that is not this sitting's to undo."""
        there = self.reports.reported().get(sitting.case)
        if there == sitting.known:
            return
        sitting.known = there
        sitting.steps.clear()
        sitting.last = None
        sitting.overtaken = True
        if there is not None:
            sitting.facts = sitting.opened = there

    def _keep(self, sitting: _Sitting, facts: BuiltCart, *, going_on: bool) -> None:
        kept = self.reports.keep(facts, sitting.known, by=sitting.signed, going_on=going_on)
        sitting.known, sitting.facts = kept, replace(kept, where=facts.where)
        self.touched[sitting.case] = sitting.facts

    def _undo(self) -> tuple[ScanAnswer, ...]:
        """Undo the last scan of this cart, and at last its opening; never anything of the cart before."""
        sitting = self._sitting
        if sitting is None:
            return (self._answer(ScanKind.NOTHING_TO_UNDO, Weight.REFUSED, scan="UNDO"),)
        self._catch_up(sitting)
        if sitting.steps:
            step = sitting.steps[-1]
            self._keep(sitting, step.facts, going_on=True)
            sitting.steps.pop()
            self._back_to(sitting, step)
            sitting.last, sitting.closed = None, False
            return (self._answer(ScanKind.UNDONE, case=sitting.case, scan="UNDO", undone=step.answer),)
        if sitting.overtaken:
            return (self._answer(ScanKind.NOTHING_TO_UNDO, Weight.REFUSED, scan="UNDO", case=sitting.case),)
        if sitting.was_built:
            self._keep(sitting, sitting.opened, going_on=False)
        else:
            self.reports.forget(sitting.case)
        there = self.reports.reported().get(sitting.case)
        if there is None:
            self.touched.pop(sitting.case, None)
        elif sitting.case in self.touched:
            self.touched[sitting.case] = there
        self._sitting = None
        return (self._answer(ScanKind.UNDONE, case=sitting.case, scan="UNDO", undone=sitting.opening),)

    def _where(self) -> Where:
        return Where(file=self.name, row=self._row or None)

    def _answer(self, kind: ScanKind, weight: Weight = Weight.DONE, **facts: object) -> ScanAnswer:
        return ScanAnswer(kind=kind, weight=weight, where=self._where(), **facts)  # type: ignore[arg-type]


ITEM_KINDS = frozenset(
    {ScanKind.ITEM_ON, ScanKind.OTHER_LOT, ScanKind.NOT_LISTED, ScanKind.MORE_THAN_LISTED, ScanKind.COUNTED_BEFORE}
)
_ACTS: dict[str, Callable[[Acts, str], Said]] = {
    "": Acts.scan,
    "MISSING": Acts.missing,
    "FOUND": Acts.found,
    "INSTEAD": Acts.instead,
    "COUNT": Acts.count,
    "NOTE": Acts.note,
    "DONE": Acts.done,
}


def _known(book: ScanBook, text: str) -> tuple[object, ...] | None:
    """What a reading of a scan stands for, a word included; None where it is nothing that is known."""
    return ("word", text.upper()) if text.upper() in WORDS else book.meaning(text)


def _gone_on(before: BuiltCart, fresh: BuiltCart, cart: Cart) -> BuiltCart:
    """The report to go on from when a cart is opened again.

    What was reported stays. A cart reported built stays built from its list until DONE says that it is
    built from the newer one; one that was only started goes on with the newer list.
    """
    if before.done:
        return replace(before, where=fresh.where)
    revision = max(before.revision, fresh.revision)
    if revision == before.revision:
        return replace(before, at=fresh.at, where=fresh.where)
    return of_newer_list(replace(before, case=fresh.case, at=fresh.at, where=fresh.where), revision, cart)
