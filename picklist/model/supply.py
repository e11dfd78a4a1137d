"""Stock given to cases, and what is short."""

from __future__ import annotations

from dataclasses import dataclass, field

from picklist.model.expiry import Expiry
from picklist.problems import NOWHERE, Where


@dataclass(frozen=True, slots=True, kw_only=True)
class Pick:
    """Some of one lot for one case (and person, for gloves); open and hold quantities."""

    case: str
    item: str
    lot: str
    place: str
    expiry: Expiry
    open: int
    hold: int
    person: str = ""
    where: Where = field(default=NOWHERE, compare=False, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseShort:
    """How much of a short item one case lacks."""

    case: str
    open: int
    hold: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemShortage:
    """An item that the shelves cannot give to every case.

    ``on_hand`` is usable on the last day it is wanted, ``expired`` what is there but passes
    its expiry before the case; ``kept_back`` what was not touched; ``stand_ins`` are
    (item, usable quantity left) that may serve, ``undated`` those of them of which some has no expiry recorded.
    """

    item: str
    name: str
    wanted: int
    on_hand: int
    kept_back: int
    expired: int
    lacking: tuple[CaseShort, ...]
    stand_ins: tuple[tuple[str, int], ...] = ()
    undated: tuple[str, ...] = ()
