"""Preference cards: what a surgeon wants for a procedure, line by line."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from picklist.model.schedule import Side
from picklist.problems import NOWHERE, Where


class ThingKind(StrEnum):
    """What a line asks for."""

    TRAY = "tray"
    PACK = "pack"
    ITEM = "item"


class Change(StrEnum):
    """What a line does to the lines beneath it."""

    ADD = "add"
    REPLACE = "replace"
    REMOVE = "remove"


class Counted(StrEnum):
    """How an item adds up over the procedures of one case."""

    PER_CASE = "per case"
    PER_PROCEDURE = "per procedure"


class ConditionKind(StrEnum):
    """What a condition looks at."""

    ALERT = "alert"
    SIDE = "side"
    SIZE = "size"


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """A condition on the case, as ``alert latex``, ``not alert latex``, ``side left``, ``size child``."""

    kind: ConditionKind
    value: str
    negated: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class CardLine:
    """One line of a card.

    ``procedure`` or ``surgeon`` None means every. A ``replace`` line takes the place of
    ``instead_of`` (or, when that is empty, of the line for the same thing). ``ends``
    is the last day on which it counts. A line that is not ``approved`` is pending; one whose row does
    not say counts as approved without ``approval_stated``.
    ``line`` is a stable id of the line for offices and logs (file order when not given).
    """

    procedure: str | None
    surgeon: str | None
    change: Change
    kind: ThingKind
    thing: str
    instead_of: str = ""
    open: int = 0
    hold: int = 0
    side: Side | None = None
    only_if: tuple[Condition, ...] = ()
    counted: Counted = Counted.PER_CASE
    begins: date | None = None
    ends: date | None = None
    approved: bool = True
    approval_stated: bool = True
    note: str = ""
    where: Where = field(default=NOWHERE, compare=False, repr=False)
