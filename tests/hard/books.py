"""Where each set and each piece of each lot is, kept from sheets, papers and what people did: the judge's own books.

They read lists and changes as whoever carries them out does, and know nothing of how picklist comes to them.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta

from picklist.evening.changes import CartChange, CartChangeKind, PlanChange
from picklist.evening.content import CartThing, Handling, PieceLine
from picklist.model.plan import Cart, Plan


class JudgedWrongError(AssertionError):
    """What the judge finds wrong; its text begins with the name of the rule."""


@dataclass(frozen=True, slots=True, order=True)
class Piece:
    """One kind of thing on a cart: for which line of the list, the set or item, its lot, and whether it is on hold.

    ``wanted`` is empty for what was added by hand; a tray's line has the number of its copy.
    """

    wanted: str
    thing: str
    lot: str = ""
    hold: bool = False

    @property
    def is_set(self) -> bool:
        """Whether it is a set of instruments."""
        return "#" in self.wanted

    @property
    def line(self) -> str:
        """Its line of the list; the copies of a tray are not told apart."""
        return self.wanted.partition("#")[0]

    @property
    def body(self) -> tuple[str, str]:
        """What it is in the hand."""
        return self.thing, self.lot


Pieces = Counter[Piece]


def of_paper(cart: Cart) -> Pieces:
    """What a pick list puts on its cart."""
    found: Pieces = Counter()
    for tray in cart.trays:
        if tray.set_id:
            found[Piece(f"{tray.need.thing}#{tray.copy}", tray.set_id, "", tray.on_hold)] += 1
    for line in cart.goods:
        for pick in line.picks:
            found[Piece(line.need.thing, pick.item, pick.lot)] += pick.open
            found[Piece(line.need.thing, pick.item, pick.lot, hold=True)] += pick.hold
    return +found


def of_lines(lines: Iterable[PieceLine]) -> Pieces:
    """Things to put on or take off, as changes name them."""
    found: Pieces = Counter()
    for line in lines:
        found[of_thing(line.piece)] += line.quantity
    return found


def of_thing(piece: CartThing) -> Piece:
    """A thing as changes name it."""
    wanted = f"{piece.wanted}#{piece.copy}" if piece.set_id else piece.wanted
    return Piece(wanted, piece.set_id or piece.thing, piece.lot, piece.part is Handling.HOLD)


def bodies(pieces: Pieces) -> Counter[tuple[str, str]]:
    """How many of each thing and lot, whatever they are for."""
    found: Counter[tuple[str, str]] = Counter()
    for piece, many in pieces.items():
        found[piece.body] += many
    return +found


def by_line(pieces: Pieces) -> Counter[str]:
    """How many there are for each line of the list."""
    found: Counter[str] = Counter()
    for piece, many in pieces.items():
        found[piece.line] += many
    return +found


def plainly(pieces: Pieces) -> Pieces:
    """The same, with the copies of a tray not told apart: which of two sets is the first is all the same."""
    found: Pieces = Counter()
    for piece, many in pieces.items():
        found[replace(piece, wanted=piece.line)] += many
    return found


def in_words(pieces: Pieces) -> str:
    """For a fault."""
    return ", ".join(
        f"{many} {piece.thing} {piece.lot}{' hold' if piece.hold else ''} for {piece.wanted}"
        for piece, many in sorted(pieces.items())
    )


@dataclass(slots=True)
class CrewsWord:
    """What the crew said of a cart, all reports together; ``rev`` is the list it was built from."""

    rev: int
    done: bool = False
    sets: dict[str, str] = field(default_factory=dict)  # line of the list -> set
    missing: Counter[str] = field(default_factory=Counter)
    stood: dict[str, tuple[str, int]] = field(default_factory=dict)
    lots: dict[str, Counter[str]] = field(default_factory=dict)  # item -> lots that were scanned
    added: Counter[tuple[str, str]] = field(default_factory=Counter)

    def copy(self) -> CrewsWord:
        """The same, to be added to."""
        lots = {item: Counter(lots) for item, lots in self.lots.items()}
        said = CrewsWord(self.rev, self.done, dict(self.sets), Counter(self.missing), dict(self.stood), lots)
        said.added = Counter(self.added)
        return said

    def follow(self, before: CrewsWord, after: CrewsWord) -> None:
        """Take over what is said otherwise by two words that hold for another list."""
        for name in ("sets", "missing", "stood", "lots", "added"):
            mine, was, now = (getattr(word, name) for word in (self, before, after))
            for key in {*was, *now}:
                if key not in now:
                    mine.pop(key, None)
                elif was.get(key) != now[key]:
                    mine[key] = now[key]

    def on_cart(self, listed: Pieces, short: Counter[str]) -> Pieces:
        """What is on a cart built from a list with these exceptions; of what is missing some was ``short``."""
        found: Pieces = Counter()
        for piece, many in listed.items():
            taken = self.sets.get(piece.wanted, piece.thing) if piece.is_set else piece.thing
            found[replace(piece, thing=taken)] += 0 if piece.is_set and self.missing[piece.wanted] else many
        for wanted, set_id in self.sets.items():
            if not any(piece.wanted == wanted for piece in listed):
                found[Piece(wanted, set_id)] += 1
        for wanted, many in self.missing.items():
            if "#" not in wanted:
                list(_off(found, wanted, many - self.stood.get(wanted, ("", 0))[1] - short[wanted]))
        for wanted, (thing, many) in self.stood.items():
            found[Piece(wanted, thing)] += min(many, short[wanted])  # of that the list has no piece to replace
            for piece, some in _off(found, wanted, many - short[wanted]):
                found[Piece(wanted, thing, "", piece.hold)] += some
        for item, lots in self.lots.items() if self.done else ():
            _relot(found, item, lots)
        for (thing, lot), many in self.added.items():
            found[Piece("", thing, lot)] += many
        return +found


def _off(pieces: Pieces, wanted: str, many: int) -> Iterator[tuple[Piece, int]]:
    """Take so many of a line off, those on hold first."""
    for piece in sorted((p for p in pieces if p.wanted == wanted), key=lambda p: (not p.hold, p)):
        some = min(many, pieces[piece])
        if some > 0:
            pieces[piece] -= some
            many -= some
            yield piece, some


def _relot(pieces: Pieces, item: str, lots: Counter[str]) -> None:
    """The lots that were scanned, for as many as were."""
    there = sorted((piece, many) for piece, many in pieces.items() if piece.thing == item and many > 0 and piece.wanted)
    left = Counter(lots)
    for piece, many in there:
        kept = min(many, left[piece.lot])
        left[piece.lot] -= kept
        pieces[piece] -= many - kept
        for lot in sorted(+left):
            some = min(many - kept, left[lot]) if lot != piece.lot else 0
            left[lot] -= some
            kept += some
            pieces[replace(piece, lot=lot)] += some
        pieces[piece] += many - kept


@dataclass(frozen=True, slots=True)
class CameOff:
    """So many of a thing that came off a cart by a list of that revision."""

    rev: int
    thing: str
    lot: str
    many: int


@dataclass(slots=True)
class CartBook:
    """One cart: the list in hand, what was told, and what is on it once the printed changes are carried out."""

    day: date
    number: str
    start: datetime
    end: datetime
    by: datetime
    rev: int = 0
    listed: Pieces = field(default_factory=Counter)
    content: Pieces = field(default_factory=Counter)
    short: Counter[str] = field(default_factory=Counter)  # what no shelf could give, by line of the list
    told: CrewsWord | None = None  # as it holds for the list in hand
    base: CrewsWord | None = None  # as it was said, of the list that it speaks of
    base_listed: Pieces = field(default_factory=Counter)
    base_short: Counter[str] = field(default_factory=Counter)
    back: Counter[tuple[str, str]] = field(default_factory=Counter)  # what was put back since it was said
    asked: tuple[Pieces, Pieces] = field(default_factory=lambda: (Counter(), Counter()))  # by the list in hand
    told_revs: list[int] = field(default_factory=list)
    expected: dict[str, datetime] = field(default_factory=dict)  # line of the list -> when its set is there
    waits: set[str] = field(default_factory=set)  # sets that were not there yet when the cart was built
    off: list[CameOff] = field(default_factory=list)
    off_done: list[CameOff] = field(default_factory=list)  # what is back on its shelf
    in_room: bool = False
    gone: bool = False
    over: bool = False
    stopped: bool = False
    gone_in_use: Counter[str] | None = None  # item -> how many did not come back, as the room reported
    counted: Counter[str] = field(default_factory=Counter)  # what settling took off for it
    opened: set[str] = field(default_factory=set)  # sets that the room opened
    settled: bool = False

    @property
    def built(self) -> bool:
        """Whether it is built, as far as anybody said."""
        return self.told is not None and self.told.done

    @property
    def known(self) -> Pieces:
        """What is on a cart by its report, whatever lists ask since."""
        assert self.base is not None
        found, back = self.base.on_cart(self.base_listed, self.base_short), Counter(self.back)
        for piece in sorted(found, key=lambda one: (not one.wanted, one)):
            off = min(found[piece], back[piece.body])
            found[piece] -= off
            back[piece.body] -= off
        return +found

    @property
    def there(self) -> Pieces:
        """What is really on a built cart: without trays to come. In its room all is done that its list asked for."""
        known = self.carried if self.in_room or self.over or self.base is None else self.known
        return Counter({piece: many for piece, many in known.items() if piece.thing not in self.waits})

    @property
    def carried(self) -> Pieces:
        """What is there once the list in hand is carried out."""
        return Counter({piece: many for piece, many in self.content.items() if piece.thing not in self.waits})

    def later(self, now: datetime) -> set[str]:
        """The sets that its list in hand expects later, and that nobody said are there."""
        came = {*self.told.sets.values()} if self.told else set()
        return {p.thing for p in self.listed if (at := self.expected.get(p.wanted)) and at > now} - came

    def say(self, told: CrewsWord, *, moved: bool) -> None:
        """The crew's word; ``moved``: of the list in hand, else beside what was said of an older one."""
        if moved or self.base is None or self.told is None:
            self.base, self.base_listed, self.base_short = told.copy(), self.listed, Counter(self.short)
            self.back, self.asked = Counter(), (Counter(), Counter())
        else:
            self.base.follow(self.told, told)
            self.base.done = told.done
        self.told, self.content = told, told.on_cart(self.listed, self.short)
        self.told_revs.append(told.rev)

    @property
    def lists(self) -> Pieces:
        """What is on it or still to be fetched for it."""
        return self.content if self.built else self.listed


@dataclass(slots=True)
class Books:
    """All carts of all days, by day and by the name under which a cart is kept."""

    carts: dict[tuple[date, str], CartBook] = field(default_factory=dict)
    closed: list[CartBook] = field(default_factory=list)
    revision: dict[date, int] = field(default_factory=dict)

    def of_day(self, day: date) -> list[CartBook]:
        """The open carts of a day."""
        return [one for (its, _), one in sorted(self.carts.items()) if its == day]

    def every(self) -> list[CartBook]:
        """All carts there ever were."""
        return [*self.carts.values(), *self.closed]

    def take(self, plan: Plan, change: PlanChange) -> None:
        """A build: each printed change is laid over the former list and what is on the cart."""
        names = change.names_kept()
        after: dict[tuple[date, str], CartBook] = {}
        for one in change.carts:
            before = self.carts.get((plan.day, one.old_case)) if one.old_case else None
            if one.is_live:
                cart = plan.cart(one.case)
                assert cart is not None
                after[plan.day, one.case] = live_cart(plan, one, cart, before, self.sets_elsewhere(before))
            elif before is not None and one.kind is CartChangeKind.CANCELLED:
                self._gone(one, before)
            elif before is not None:
                before.over = one.kind is CartChangeKind.OVER
                after[plan.day, names.get(one.old_case, one.old_case)] = before
        if {one.case for one in change.carts if one.is_live} != {cart.case.number for cart in plan.carts}:
            raise JudgedWrongError("changes: they are not of the carts of the plan")
        mine = {key: one for key, one in self.carts.items() if key[0] == plan.day}
        lost = [key[1] for key, one in mine.items() if not (one.gone or one.over or one in after.values())]
        if lost:
            raise JudgedWrongError(f"changes: nothing is said of {sorted(lost)}")
        others = {key: one for key, one in self.carts.items() if key not in mine or (one.over and key not in after)}
        self.carts = others | after
        self.revision[plan.day] = plan.revision

    def sets_elsewhere(self, mine: CartBook | None) -> set[str]:
        """The sets that are on other carts by their reports."""
        others = (one for one in self.carts.values() if one is not mine and one.told and not (one.over or one.in_room))
        return {
            piece.thing
            for one in others
            for piece in one.there
            if piece.is_set and (one.built or (one.base and piece.thing in one.base.sets.values()))
        }

    def _gone(self, one: CartChange, before: CartBook) -> None:
        off, there = bodies(of_lines(one.take_off)), bodies(before.there if before.told else before.listed)
        cannot = self.sets_elsewhere(before) | (before.later(one.made) if not before.built else set())
        if off - there or any(thing not in cannot for thing, _ in there - off):
            raise JudgedWrongError(f"cancelled: {one.case} has {dict(there)}, to take off {dict(off)}")
        before.gone = True
        _forget_asked(before)
        before.off += came_off(one)
        self.closed.append(before)


def live_cart(plan: Plan, one: CartChange, cart: Cart, before: CartBook | None, elsewhere: set[str]) -> CartBook:
    """A cart of the new plan after its change; ``elsewhere`` are the sets on other carts."""
    new, add, case = of_paper(cart), of_lines(one.add), cart.case
    end = case.start + timedelta(minutes=case.minutes)
    book = before or CartBook(plan.day, one.case, case.start, end, cart.complete_by)
    if before is None:
        if add != new and not cart.stopped:
            raise JudgedWrongError(f"new list: {one.case} lists {in_words(new)}, its changes say {in_words(add)}")
        book.listed, book.rev = (Counter(), 0) if cart.stopped else (new, one.revision)
    elif not (cart.stopped or case.is_running):
        _carry_out(one, new, book, short_on(cart), elsewhere)
        _forget_asked(book)
        book.off += came_off(one)
    book.in_room = case.is_running
    book.number, book.start, book.end, book.by = one.case, case.start, end, cart.complete_by
    book.stopped = bool(cart.stopped)
    book.expected = {f"{t.need.thing}#{t.copy}": t.expected for t in cart.trays if t.set_id and t.expected}
    book.short = short_on(cart)
    return book


def came_off(one: CartChange) -> list[CameOff]:
    """What a change takes off, line by line."""
    return [
        CameOff(one.revision, line.piece.set_id or line.piece.thing, line.piece.lot, line.quantity)
        for line in one.take_off
    ]


def _forget_asked(book: CartBook) -> None:
    """What was asked off a cart since its report is asked anew by each list, all of it."""
    if book.base is not None:
        book.off = [one for one in book.off if one.rev <= book.base.rev]


def short_on(cart: Cart) -> Counter[str]:
    """How many no shelf gives to a list, by line."""
    short: Counter[str] = Counter()
    for line in cart.goods:
        short[line.need.thing] += line.short_open + line.short_hold
    return short


def _carry_out(one: CartChange, new: Pieces, book: CartBook, short: Counter[str], elsewhere: set[str]) -> None:
    """Do to the cart, or to the list that nobody reported on, what the change says."""
    named = {piece.thing for piece in new}
    actual = Counter(book.known if book.told else book.listed)
    for piece in [piece for piece in actual if book.told and piece.thing in book.waits - named]:
        del actual[piece]  # it never came, and is not waited for any more
    cannot = elsewhere | (set() if book.built else book.later(one.made))
    asked_off = {line.piece.set_id for line in one.take_off}
    for piece in [piece for piece in actual if piece.is_set and piece.thing in cannot - named - asked_off]:
        del actual[piece]  # it cannot be there, and so is not to be taken off
    for piece, many in _steps(one):
        actual[piece] += many
    lacks = Counter({piece: -many for piece, many in plainly(actual).items() if many < 0})
    if lacks:
        raise JudgedWrongError(f"take off: {one.case} has not {in_words(lacks)}")
    if book.told is None and plainly(actual) != plainly(new):
        raise JudgedWrongError(f"apply: {one.case} comes to {in_words(+actual)}, its new list is {in_words(new)}")
    if book.told is not None:
        _balance(one, new, +plainly(actual), book.told, short)
    asks = of_lines(one.add), of_lines(one.take_off)
    if not one.prints and any(now - was for now, was in zip(asks, book.asked, strict=True)):
        said = [in_words(some) for some in (*asks, *book.asked)]
        raise JudgedWrongError(f"unchanged: {one.case} has work that its list does not ask for: {said}")
    book.asked = asks
    lines = {piece.thing: piece for piece in new if piece.is_set}
    there: Pieces = Counter()
    for piece, many in (+actual).items():
        there[lines.get(piece.thing, piece) if piece.is_set else piece] += many
    same = bodies(there) == bodies(new) and by_line(there) == by_line(new)
    book.content = new if same else there
    if one.prints:
        book.rev = one.revision
        if book.told is not None:
            _word_for_new_list(book.told, by_line(of_lines(one.still_missing)), there, short)
    if one.prints or book.told is None:
        book.listed = new


def _steps(one: CartChange) -> Iterator[tuple[Piece, int]]:
    yield from of_lines(one.add).items()
    yield from ((piece, -many) for piece, many in of_lines(one.take_off).items())
    for mark in one.remarks:
        yield of_thing(mark.before), -mark.quantity
        yield of_thing(mark.after), mark.quantity


def _word_for_new_list(told: CrewsWord, still: Counter[str], there: Pieces, short: Counter[str]) -> None:
    """What the crew said comes down to what is still missing, in place of something else, and there by hand."""
    for line in told.stood:
        thing = told.stood[line][0]
        told.stood[line] = (thing, sum(n for p, n in there.items() if (p.wanted, p.thing) == (line, thing)))
    for line in [line for line in told.missing if "#" not in line]:
        more = told.stood.get(line, ("", 0))[1] + short[line]
        told.missing[line] = still[line] + more if still[line] else 0
    told.added = +Counter({piece.body: many for piece, many in there.items() if not piece.wanted})


def _balance(one: CartChange, new: Pieces, actual: Pieces, told: CrewsWord, short: Counter[str]) -> None:
    """Line by line, what is on a cart and what is missing make what the list asks for, with the sets it names.

    What stood in may serve for what no shelf gives, too.
    """
    still, have, want = by_line(of_lines(one.still_missing)), by_line(actual), by_line(new)
    del have[""]  # what was added by hand stays
    for line in sorted({*have, *want}):
        gone = sum(many for wanted, many in told.missing.items() if wanted.partition("#")[0] == line)
        more = min(short[line], told.stood.get(line, ("", 0))[1])
        if have[line] + still[line] != want[line] + more or still[line] > gone:
            said = f"{have[line]} there, {still[line]} still missing of {gone}, {want[line]} asked for"
            raise JudgedWrongError(f"balance: {one.case} {line}: {said}")
    sets = {piece.thing for piece in plainly(new)}
    wrong = {piece.thing for piece in actual if piece.thing not in sets and piece.line.startswith("T-")}
    if wrong:
        raise JudgedWrongError(f"sets: {one.case} has {sorted(wrong)}, which its list does not name")
