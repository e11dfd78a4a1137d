"""What a case wants once its cards are resolved, with the reasons for each line."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from picklist.model.cards import ThingKind
from picklist.model.catalogue import ItemClass
from picklist.model.schedule import Side
from picklist.problems import NOWHERE, Problem, Where


class ReasonKind(StrEnum):
    """A link in the chain that made a line what it is."""

    CARD_LINE = "card line"
    PROCEDURE_PACK = "the procedure's pack"
    REPLACED = "replaced"
    REMOVED = "removed"
    MERGED = "merged"
    IN_PACK = "already in the pack"
    LATEX_SWAP = "latex-free twin"
    STAFF = "staff at the table"
    CONDITION = "condition"


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """One step of a trace: what happened, open and hold after it, and where it is in the input."""

    kind: ReasonKind
    text: str
    open: int
    hold: int
    where: Where = field(default=NOWHERE, compare=False, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """A resolved line of one case. ``item_class`` is None for trays and packs.

    ``person`` is the id of whom gloves or a gown are for; ``size`` a glove's or
    implant's size, of a tray the patient's.
    """

    case: str
    kind: ThingKind
    thing: str
    name: str
    open: int
    hold: int
    item_class: ItemClass | None = None
    side: Side | None = None
    size: str = ""
    person: str = ""
    note: str = ""
    brought_by: str = ""
    reasons: tuple[Reason, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Merge:
    """A line that several procedures asked for, and what came of it."""

    kind: ThingKind
    thing: str
    asked: tuple[tuple[str, int, int], ...]  # (procedure, open, hold)
    open: int
    hold: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PackContent:
    """What the chosen pack already holds: item, name, quantity in the pack."""

    item: str
    name: str
    quantity: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Pending:
    """A card line whose dates hold on the day of the case, but which is not approved and so was not used."""

    text: str
    where: Where = field(default=NOWHERE, compare=False, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseNeeds:
    """All needs of one case. ``stopped`` are the problems that stop its list (no needs count then).

    ``dropped`` are things that a card asked for and that are not on the list (quantities 0), each
    with the reasons why not. ``notices`` are problems that leave the list standing. ``approval_not_stated``
    are card lines that counted as approved although their rows do not say so. ``unknown_alerts``
    are known to no card and no rule, and ``unknown_size`` says the same of the patient size.
    """

    case: str
    needs: tuple[Need, ...] = ()
    merges: tuple[Merge, ...] = ()
    pack_contents: tuple[PackContent, ...] = ()
    pending: tuple[Pending, ...] = ()
    stopped: tuple[Problem, ...] = ()
    notices: tuple[Problem, ...] = ()
    dropped: tuple[Need, ...] = ()
    approval_not_stated: tuple[Where, ...] = field(default=(), compare=False, repr=False)
    unknown_alerts: tuple[str, ...] = ()
    unknown_size: bool = False
