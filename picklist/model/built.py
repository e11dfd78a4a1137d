"""What the crew reported about carts, which the next plan keeps to."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from typing import Any, TypeVar

from picklist.letters import whole_number
from picklist.problems import NOWHERE, Where

_REVISION_MARK = ".R"


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportedFact:
    """A line of a report: who reported it and when (UTC), as far as is known, and where it was written."""

    by: str = field(default="", compare=False)
    reported_at: datetime | None = field(default=None, compare=False)
    where: Where = field(default=NOWHERE, compare=False, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenSet(ReportedFact):
    """The set that was put on the cart for a tray on the list (``copy`` as on the list)."""

    tray: str
    copy: int
    set_id: str

    @property
    def about(self) -> tuple[object, ...]:
        """What the line speaks of; a later line about the same takes its place."""
        return "tray", self.tray, self.copy


@dataclass(frozen=True, slots=True, kw_only=True)
class MissingThing(ReportedFact):
    """A thing on the list that did not come onto the cart; ``copy`` tells trays apart, 0 for anything else."""

    thing: str
    quantity: int
    copy: int = 0
    person: str = ""

    @property
    def about(self) -> tuple[object, ...]:
        """A tray that is missing and the set on the cart for it are about the same."""
        return ("tray", self.thing, self.copy) if self.copy else ("missing", self.thing, self.person)


@dataclass(frozen=True, slots=True, kw_only=True)
class StoodIn(ReportedFact):
    """What was put on the cart in place of a thing on the list."""

    thing: str
    stood_in: str
    quantity: int
    person: str = ""

    @property
    def about(self) -> tuple[object, ...]:
        """What took the place of what, and for whom."""
        return "stand-in", self.thing, self.stood_in, self.person


@dataclass(frozen=True, slots=True, kw_only=True)
class CountFound(ReportedFact):
    """How many of an item the picker counted; a blank lot or place means all of them together."""

    item: str
    quantity: int
    lot: str = ""
    place: str = ""

    @property
    def about(self) -> tuple[object, ...]:
        """The item, its lot and its place."""
        return "count", self.item, self.lot, self.place


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenItem(ReportedFact):
    """An item as it was scanned onto the cart, with the lot, expiry and serial number that its label named."""

    item: str
    quantity: int
    lot: str = ""
    expiry: date | None = None
    serial: str = ""

    @property
    def about(self) -> tuple[str, str, date | None, str]:
        """The package: those that are alike are counted together."""
        return self.item, self.lot, self.expiry, self.serial


@dataclass(frozen=True, slots=True, kw_only=True)
class TrayToCome(ReportedFact):
    """A tray of a cart reported built whose set could not be there yet: it was expected later."""

    tray: str
    copy: int
    set_id: str
    expected: datetime


RowLine = TakenSet | MissingThing | StoodIn | CountFound  # about which a report says one thing
Line = RowLine | TakenItem
LINES = ("sets", "missing", "stood_in", "counts", "scanned", "added")  # of a report
_FIELD = {TakenSet: "sets", MissingThing: "missing", StoodIn: "stood_in", CountFound: "counts"}
L = TypeVar("L", bound=Line)


def corrected(before: tuple[L, ...], new: Iterable[L]) -> tuple[L, ...]:
    """The lines of before, replaced by the new one where that is about the same, and the other new ones after them."""
    said = {line.about: line for line in new}
    there: list[L] = []
    for line in before:
        fresh = said.get(line.about, line)
        if fresh is line or fresh not in there:
            there.append(fresh)
    known = {line.about for line in before}
    return (*there, *(line for line in said.values() if line.about not in known))


@dataclass(frozen=True, slots=True, kw_only=True)
class BuiltCart:
    """What the crew reported about one cart.

    ``revision`` is that of the list it was built from, ``at`` the UTC instant at which it was
    reported, ``by`` initials of whoever built it. A cart that is not ``done`` is started.
    ``added`` are things put on by hand that the list does not ask for, ``to_come`` are trays that a
    built cart still waits for. ``not_done`` is a report that
    takes back that the cart is built; it is never kept.
    """

    day: date
    case: str
    revision: int
    at: datetime
    done: bool = False
    by: str = ""
    sets: tuple[TakenSet, ...] = ()
    missing: tuple[MissingThing, ...] = ()
    stood_in: tuple[StoodIn, ...] = ()
    counts: tuple[CountFound, ...] = ()
    scanned: tuple[TakenItem, ...] = ()
    added: tuple[TakenItem, ...] = ()
    to_come: tuple[TrayToCome, ...] = ()
    remark: str = ""
    not_done: bool = field(default=False, compare=False, repr=False)
    where: Where = field(default=NOWHERE, compare=False, repr=False)

    @property
    def lines(self) -> tuple[Line, ...]:
        """All that was reported of things on it, line by line."""
        return (*self.sets, *self.missing, *self.stood_in, *self.counts, *self.scanned, *self.added)

    @property
    def taken(self) -> dict[tuple[str, int], str]:
        """The set on the cart for each tray that was reported, by tray and copy."""
        return {(one.tray, one.copy): one.set_id for one in self.sets}

    @property
    def missing_trays(self) -> dict[tuple[str, int], MissingThing]:
        """What was reported of each tray that did not come, by tray and copy."""
        return {(one.thing, one.copy): one for one in self.missing if one.copy}

    def missing_of(self, item: str) -> int:
        """How many of an item did not come."""
        return sum(one.quantity for one in self.missing if one.thing == item and not one.copy)

    def scanned_of(self, item: str) -> int:
        """How many of an item that the list asks for were scanned onto the cart."""
        return sum(one.quantity for one in self.scanned if one.item == item)

    @property
    def is_not_begun(self) -> bool:
        """Whether it says only that the cart is not built."""
        return self.not_done and not self.lines and not self.remark

    def is_finished(self, counts: int) -> bool:
        """Whether the cart is built from the list that counts, and waits for nothing."""
        return self.done and self.revision >= counts and not self.to_come

    def with_lines(self, made: Callable[[str, tuple[Any, ...]], Iterable[ReportedFact]]) -> BuiltCart:
        """The report with the lines that are made of each kind of its lines, by the name of their field."""
        found: dict[str, Any] = {name: tuple(made(name, getattr(self, name))) for name in LINES}
        return replace(self, **found)

    def with_line(self, line: RowLine) -> BuiltCart:
        """The report with a line, in place of what it said about the same.

        So many missing, and nobody named, are those of all persons together; 0 says that the thing is there.
        """
        field_of = _FIELD[type(line)]
        of_all = line.thing if isinstance(line, MissingThing) and not (line.copy or line.person) else ""

        def made(name: str, lines: tuple[Any, ...]) -> Iterable[ReportedFact]:
            if name != field_of:
                return (one for one in lines if one.about != line.about)
            kept = tuple(one for one in lines if not (of_all and one.thing == of_all and one.person))
            return (one for one in corrected(kept, (line,)) if name != "missing" or one.quantity)

        return self.with_lines(made)

    def without_lines(self, gone: Callable[[Line], bool]) -> BuiltCart:
        """The report without some of its lines."""
        return self.with_lines(lambda _, lines: (one for one in lines if not gone(one)))


def cart_code(case: str, revision: int) -> str:
    """What a cart's label says in Code 128: ``C-1041.R3``."""
    return f"{case}{_REVISION_MARK}{revision}"


# Signs that a GS1 identifier may hold (General Specifications 7.11), without the brackets of the printed form.
_ASSET = re.compile(r"""[A-Za-z0-9!"%&'*+,\-./:;<=>?_]{1,30}""")


def cart_asset(prefix: str, case: str, revision: int) -> str:
    """What a cart's label says in a GS1 DataMatrix, with identifier 8004; empty where it cannot be said.

    8004 names a thing that the owner of a company prefix keeps track of itself: the prefix, then at most 30
    characters together of the owner's own (GIAI, GS1 General Specifications 2.3). Here they are those of ``cart_code``.
    """
    asset = f"{prefix}{cart_code(case, revision)}"
    return asset if prefix and _ASSET.fullmatch(asset) else ""


def read_cart_code(text: str) -> tuple[str, int] | None:
    """Case number and revision of a cart's label; None when the text is no such code."""
    case, mark, revision = text.strip().rpartition(_REVISION_MARK)
    if not mark:  # a keyboard with its capitals the other way round
        case, mark, revision = text.strip().rpartition(_REVISION_MARK.lower())
    number = whole_number(revision)
    return (case, number) if mark and case and number is not None else None
