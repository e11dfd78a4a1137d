"""What there is to say of a conflict and its proof, in kinds and numbers; ``wording.say_conflicts`` says it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from picklist.model.uses import Deadline, ReadyTime, Reuse


class Decider(StrEnum):
    """What decided that a case goes without a set."""

    OPEN = "priority of trays to be opened"
    OPEN_FIRST = "trays to be opened before trays on hold"
    HELD = "priority of trays on hold"
    CERTAIN = "certainty"
    BUILT = "built carts"
    EXACT = "exact matches"
    LATE = "lateness"
    RULE = "the site's rule for equal cases"


class Binding(StrEnum):
    """What keeps a set of a proof from the case that waits."""

    NEVER = "never usable"
    MISFIT = "wrong side or size"
    LOAN_ENDS = "goes back before the case ends"
    NO_TRANSFER = "no transfer"
    STATE = "its state now"
    CASE = "with a case"
    ON_HOLD = "on hold in a case"
    OWN = "goes to the case itself"
    TOO_LATE = "cannot be brought in time"
    KEPT = "kept for a later case"


@dataclass(frozen=True, slots=True, kw_only=True)
class Later:
    """A later case for which a set is kept, and when it would be back for it (None: never)."""

    case: str
    needed: datetime
    back: datetime | None = None
    hurried: datetime | None = None  # where that is sooner


@dataclass(frozen=True, slots=True, kw_only=True)
class Bound:
    """What binds a set.

    ``text``: its state, side or size in words, its building, or the other tray of the case itself; ``to``: the
    building where it is needed, or to which no way back is listed from where it was ``used_in``; ``ends``: when the
    case that has it ends; ``wanted``: sets that the case wants at once.
    """

    binding: Binding
    text: str = ""
    to: str = ""
    used_in: str = ""
    ends: datetime | None = None
    wanted: int = 0
    hurried: datetime | None = None  # ready then, where that is sooner
    unopened: datetime | None = None  # ready then if it stays unopened
    loan_until: datetime | None = None  # goes back then, before the case would end
    elsewhere: bool = False  # goes to what else the case lacks
    later: Later | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptSet:
    """A set that is ready by the need but kept for a later case."""

    set_id: str
    case: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Shortage:
    """Why a case gets no set.

    ``gets``: sets that it has of the ``wanted``; ``first``: sets that come free sooner, but for something else that
    it lacks. ``by``: the act that the soonest set would have to reach in time; its case starts at ``giver_starts``,
    or, if it is away or on loan, it is here at ``arrives``. ``equal``: cases of the same priority; ``rule``: which
    of two equal cases keeps its set.
    """

    wanted: int = 1
    gets: tuple[str, ...] = ()
    first: tuple[str, ...] = ()
    kept: tuple[KeptSet, ...] = ()
    kept_next: Later | None = None
    by: Deadline | None = None
    giver_starts: datetime | None = None
    arrives: datetime | None = None
    decider: Decider | None = None
    equal: tuple[str, ...] = ()
    rule: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reserve:
    """How many sets stay ready of those that should, and until when (None: as far as the schedule goes)."""

    left: int
    keep: int
    until: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ConflictFacts:
    """What its sentence says: the tray's name, the need, and the way of the set to it.

    ``standing_in``: the name of the set's own tray where it stands in; ``room``: that of the case that gives it back;
    ``in_queue``: when it is ready in today's queue, where that is later.
    """

    tray: str
    needed: datetime
    reuse: Reuse | None = None
    standing_in: str = ""
    room: str = ""
    margin: int = 0
    shortage: Shortage | None = None
    reserve: Reserve | None = None
    in_queue: ReadyTime | None = None
