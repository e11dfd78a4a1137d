"""Scanner input, line by line, as facts about carts.

A line is one scan or one word with what follows it; words may be scanned from a card too, then
what follows comes on the next lines. Capital and small letters are the same.

    C-1041.R3           (a cart's label) opens that cart; CART C-1041 does so by hand
    KNEE-02             this set is on the cart
    100245              one of this item is on the cart (also its GTIN or GS1 label)
    TIMES 3             it was three of the item scanned last
    MISSING 100245 2    two of it did not come (all of them without a number; a tray or set too)
    INSTEAD x y         y was taken in place of x
    COUNT 100245 14     the shelf held fourteen
    BY mk   AT 21:40    who built it, and when
    NOTE ...            anything the next shift should know
    DONE                the cart is built
    UNDO                takes back the line before
    # ...               is not read
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from datetime import datetime

from picklist.clock import SiteClock
from picklist.evening.last_time import last_time
from picklist.evening.scan_acts import Acts, Said
from picklist.evening.scan_book import ScanBook
from picklist.model.built import BuiltCart, read_cart_code
from picklist.problems import Problem, Severity, Where
from picklist.tables.columns import CellType, Column
from picklist.tables.nearest import Candidates
from picklist.tables.parse_times import parse_time_cell

# How many things must follow a word when it is scanned alone.
WORDS = {
    "CART": 1,
    "TIMES": 1,
    "MISSING": 1,
    "INSTEAD": 2,
    "COUNT": 2,
    "BY": 1,
    "AT": 1,
    "NOTE": 1,
    "DONE": 0,
    "UNDO": 0,
}
_TIME = Column(name="at", type=CellType.TIME, help="a time of day")


def read_scans(
    lines: Iterable[str], book: ScanBook, clock: SiteClock, now: datetime, name: str = "scans"
) -> tuple[tuple[BuiltCart, ...], tuple[Problem, ...]]:
    """The facts that scanned lines tell, and what is wrong with its line number.

    ``name`` is what the lines came from, for the problems. A cart scanned again goes on where it stood.
    """
    session = _Session(book=book, clock=clock, now=now, name=name)
    for number, line in enumerate(lines, start=1):
        session.take(line, Where(file=name, row=number))
    session.end()
    return tuple(cart for cart in session.carts.values()), tuple(session.problems)


@dataclass(slots=True, kw_only=True)
class _Session:
    """What was told so far; ``before`` are the states that UNDO goes back to."""

    book: ScanBook
    clock: SiteClock
    now: datetime
    name: str
    carts: dict[str, BuiltCart] = field(default_factory=dict)
    current: str = ""
    waiting: tuple[str, ...] = ()
    problems: list[Problem] = field(default_factory=list)
    before: list[tuple[dict[str, BuiltCart], str]] = field(default_factory=list)

    def take(self, line: str, where: Where) -> None:
        """One line."""
        text = line.strip().strip("\ufeff")
        if not text or text.startswith("#"):
            return
        word, _, rest = text.partition(" ")
        word = word.upper()
        if self.waiting:
            self._take_waited(text, where)
        elif word in WORDS and len(rest.split()) < WORDS[word]:
            self.waiting = (word, *rest.split())
        elif word == "UNDO":
            self._undo(where)
        else:
            self._act(word if word in WORDS else "", rest.strip() if word in WORDS else text, where)

    def _take_waited(self, text: str, where: Where) -> None:
        """A line that a word before it waits for; another word or a cart's label breaks the wait off."""
        word, *rest = self.waiting
        if text.upper() == "UNDO":
            self.waiting = ()
            return
        if text.upper() in WORDS or self._opens(text):
            self.waiting = ()
            self._tell("broken off", where, f"{word} was not given what it needs, so it was not read", text)
            self.take(text, where)
            return
        rest = [*rest, text]
        if len(rest) < WORDS[word]:
            self.waiting = (word, *rest)
            return
        self.waiting = ()
        self._act(word, " ".join(rest), where)

    def _opens(self, text: str) -> bool:
        code = read_cart_code(text)
        return code is not None and self.book.cart(code[0]) is not None

    def _act(self, word: str, rest: str, where: Where) -> None:
        state = (dict(self.carts), self.current)
        if word == "CART" or (not word and self._opens(rest)):
            self._open(rest, where)
        elif not self.current:
            self._tell("no cart open", where, f"'{rest or word}' was scanned while no cart was open", rest)
        else:
            self._change(word, rest, where)
        if (self.carts, self.current) != state:
            self.before.append(state)

    def _open(self, text: str, where: Where) -> None:
        code = read_cart_code(text) or (text, 0)
        cart = self.book.cart(code[0])
        if cart is None:
            near = Candidates(c.case.number for c in self.book.plan.carts).nearest(code[0])
            self._tell("unknown case", where, f"no cart is planned for case {code[0]}", code[0], near)
            return
        if cart.stopped:
            self._tell("list stopped", where, f"the list of case {cart.case.number} is stopped", cart.case.number)
            return
        number = cart.case.number
        counts = self.book.revisions.get(number, self.book.plan.revision)
        revision = code[1] or counts
        if revision != counts:
            what = f"this label of case {number} is from list {revision}; list {counts} counts"
            self._tell("older list", where, what, text, severity=Severity.NOTICE)
        self._leave(where)
        self.current = number
        if number not in self.carts:
            self.carts[number] = BuiltCart(day=cart.case.day, case=number, revision=revision, at=self.now, where=where)

    def _leave(self, where: Where) -> None:
        if self.current and not self.carts[self.current].done:
            what = f"cart {self.current} was left without DONE; it counts as begun"
            self._tell("left open", where, what, self.current, severity=Severity.NOTICE)
        self.current = ""

    def _change(self, word: str, rest: str, where: Where) -> None:
        cart = self.book.cart(self.current)
        assert cart is not None
        facts = self.carts[self.current]
        said: Said
        if word == "AT":
            said = self._at(facts, rest)
        else:
            acts: dict[str, Callable[[Acts, str], Said]] = {
                "": Acts.scan,
                "TIMES": Acts.times,
                "MISSING": Acts.missing,
                "INSTEAD": Acts.instead,
                "COUNT": Acts.count,
                "BY": Acts.by,
                "NOTE": Acts.note,
                "DONE": Acts.done,
            }
            said = acts[word](Acts(book=self.book, cart=cart, facts=facts, where=where), rest)
        changed, kind, message = said
        if message:
            notice = Severity.NOTICE if changed is not facts else Severity.TO_MEND
            self._tell(kind, where, message, rest, severity=notice)
        self.carts[self.current] = changed
        if changed.done and word == "DONE":
            self.current = ""

    def _at(self, facts: BuiltCart, rest: str) -> Said:
        wall, fault = parse_time_cell(_TIME, rest)
        if fault:
            return facts, fault.kind, fault.message
        return replace(facts, at=last_time(self.clock, wall, self.now)), "", ""

    def _undo(self, where: Where) -> None:
        if self.before:
            self.carts, self.current = self.before.pop()
        else:
            self._tell("nothing to undo", where, "there is nothing to take back", "UNDO")

    def end(self) -> None:
        """Tell what was left open at the end of the lines."""
        where = Where(file=self.name)
        if self.waiting:
            self._tell("broken off", where, f"{self.waiting[0]} was not given what it needs, so it was not read", "")
        self._leave(where)

    def _tell(
        self,
        kind: str,
        where: Where,
        message: str,
        value: str,
        nearest: tuple[str, ...] = (),
        severity: Severity = Severity.TO_MEND,
    ) -> None:
        self.problems.append(
            Problem(kind=kind, severity=severity, where=where, message=message, value=value[:60], nearest=nearest)
        )
