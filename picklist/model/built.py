"""Carts that are built: facts that the crew told, which the next plan honours."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime

from picklist.problems import NOWHERE, Where

_REVISION_MARK = ".R"


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenSet:
    """The set that was put on the cart for a tray on the list (``copy`` as on the list)."""

    tray: str
    copy: int
    set_id: str
    where: Where = field(default=NOWHERE, compare=False, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class MissingThing:
    """A thing on the list that did not come onto the cart; ``copy`` tells trays apart, 0 for anything else."""

    thing: str
    quantity: int
    copy: int = 0
    person: str = ""
    where: Where = field(default=NOWHERE, compare=False, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class StoodIn:
    """What was put on the cart in place of a thing on the list."""

    thing: str
    stood_in: str
    quantity: int
    person: str = ""
    where: Where = field(default=NOWHERE, compare=False, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class CountFound:
    """How many of an item the picker counted; a blank lot or place means all of them together."""

    item: str
    quantity: int
    lot: str = ""
    place: str = ""
    where: Where = field(default=NOWHERE, compare=False, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenItem:
    """An item as it was scanned onto the cart, with the lot and expiry that its label named."""

    item: str
    quantity: int
    lot: str = ""
    expiry: date | None = None
    where: Where = field(default=NOWHERE, compare=False, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class BuiltCart:
    """What the crew told about one cart.

    ``revision`` is that of the list it was built from, ``at`` the UTC instant at which it was
    told, ``by`` initials of whoever built it. A cart that is not ``done`` is begun.
    ``added`` are things put on by hand that the list does not ask for.
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
    remark: str = ""
    where: Where = field(default=NOWHERE, compare=False, repr=False)


def cart_code(case: str, revision: int) -> str:
    """What a cart's label says in Code 128: ``C-1041.R3``."""
    return f"{case}{_REVISION_MARK}{revision}"


def read_cart_code(text: str) -> tuple[str, int] | None:
    """Case number and revision of a cart's label; None when the text is no such code."""
    case, mark, revision = text.strip().rpartition(_REVISION_MARK)
    if not (mark and case and revision.isascii() and revision.isdigit()):
        return None
    return case, int(revision)
