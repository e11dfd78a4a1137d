"""The schedule: cases, rooms and the people at the table."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, time
from enum import StrEnum
from itertools import pairwise

from picklist.clock import SiteClock, shift
from picklist.letters import bare
from picklist.problems import NOWHERE, Where

LATEX = "latex"
USUAL_SIZES = ("adult", "child")
SIZE_WORDS = (
    *USUAL_SIZES,
    "any",
    "newborn",
    "neonate",
    "infant",
    "toddler",
    "adolescent",
    "bariatric",
    "small",
    "large",
)
SIZE_NOT_KNOWN = "not known"  # stands for what nobody knows as a size: it could be a name


class Side(StrEnum):
    """The side of an operation; NOT_SIDED is stated, a blank side is None."""

    LEFT = "left"
    RIGHT = "right"
    BOTH = "both"
    NOT_SIDED = "none"


ONE_SIDE = (Side.LEFT, Side.RIGHT)
SIDED = (*ONE_SIDE, Side.BOTH)


def sum_up_sides(sides: Iterable[Side]) -> Side | None:
    """The side of a case whose procedures have these sides; None of none at all."""
    stated = set(sides)
    sided = stated.intersection(SIDED)
    if len(sided) > 1:
        return Side.BOTH
    return next(iter(sided or stated), None)


def speaks_of_latex(alert: str) -> bool:
    """Whether an alert, on the schedule or in a card's condition, is the latex alert."""
    return LATEX in bare(alert)


class CaseStatus(StrEnum):
    """Where a case stands."""

    PLANNED = "planned"
    RUNNING = "running"
    DONE = "done"
    CANCELLED = "cancelled"


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One scheduled operation.

    ``start`` is the UTC instant on the schedule (its meaning is a setting), ``minutes``
    run from wheels-in to wheels-out. ``procedures`` holds the main one first. ``sides`` is
    empty while ``side`` holds for all procedures; else it has one for each, and ``side`` sums
    them up (left and right are both).
    ``fields``: how many teams or fields work at once. ``priority``: greater is served first.
    ``patient_size`` is a class such as adult or child, never a person's data.
    """

    number: str
    day: date
    room: str
    start: datetime
    minutes: int
    surgeon: str
    procedures: tuple[str, ...]
    side: Side | None = None
    alerts: tuple[str, ...] = ()
    patient_size: str = ""
    team: tuple[str, ...] = ()
    fields: int = 1
    status: CaseStatus = CaseStatus.PLANNED
    may_move: bool = True
    priority: int = 1
    notes: str = ""
    sides: tuple[Side, ...] = ()
    where: Where = field(default=NOWHERE, compare=False, repr=False)

    @property
    def is_live(self) -> bool:
        """Whether the case is planned or running, so that it still needs its things."""
        return self.status in (CaseStatus.PLANNED, CaseStatus.RUNNING)

    @property
    def is_running(self) -> bool:
        """Whether the case is recorded as running: it has its cart already."""
        return self.status is CaseStatus.RUNNING

    @property
    def is_cancelled(self) -> bool:
        """Whether the case is called off."""
        return self.status is CaseStatus.CANCELLED

    @property
    def sided_as(self) -> Side | None:
        """Left, right or both; None where the side is stated as none or not stated."""
        return self.side if self.side in SIDED else None

    @property
    def latex_alert(self) -> bool:
        """Whether any alert is about latex, as ``latex`` or ``Latex allergy``."""
        return any(speaks_of_latex(alert) for alert in self.alerts)

    def has_alert(self, word: str) -> bool:
        """Whether the case carries an alert; any alert that is about latex is the latex alert."""
        if speaks_of_latex(word):
            return self.latex_alert
        return any(bare(stated) == bare(word) for stated in self.alerts)

    def side_of(self, number: int) -> Side | None:
        """The side of a procedure, by its place among them from 0."""
        return self.sides[number] if self.sides else self.side


@dataclass(frozen=True, slots=True, kw_only=True)
class StaffMember:
    """Who stands at the table; glove and gown sizes as printed on the box."""

    id: str
    name: str
    role: str = "surgeon"
    outer_glove: str = ""
    under_glove: str = ""
    gown: str = ""
    where: Where = field(default=NOWHERE, compare=False, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """An operating room and the wall times between which it may be used."""

    id: str
    opens: time | None = None
    closes: time | None = None
    building: str = ""
    where: Where = field(default=NOWHERE, compare=False, repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class PastCase:
    """A finished case, for the spread of case minutes, and of late starts where the starts are known."""

    procedure: str
    surgeon: str
    planned_minutes: int
    actual_minutes: int
    room: str = ""
    planned_start: datetime | None = None
    actual_start: datetime | None = None
    where: Where = field(default=NOWHERE, compare=False, repr=False)


def one_after_another(cases: Iterable[Case], clock: SiteClock) -> Iterator[tuple[Case, Case]]:
    """Each case with the next one in its room on its day, or on the day into which it lasts."""
    ordered = sorted(cases, key=lambda one: (one.room, one.start, one.number))
    for one, other in pairwise(ordered):
        if one.room == other.room and other.day in (one.day, clock.day(shift(one.start, one.minutes))):
            yield one, other
