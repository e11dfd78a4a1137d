"""Conflicts, their proofs and remedies."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum

from picklist.letters import natural_key
from picklist.model.conflict_facts import Bound, ConflictFacts
from picklist.model.schedule import Side


class ConflictKind(StrEnum):
    """Short, rush, tight, reserve, conditional; queue: only because of queues in the department."""

    SHORT = "short"
    RUSH = "rush"
    TIGHT = "tight"
    RESERVE = "reserve"
    CONDITIONAL = "conditional"
    QUEUE = "queue"

    @classmethod
    def _missing_(cls, value: object) -> ConflictKind | None:
        return cls.QUEUE if value == "load" else None  # as older plans call it


@dataclass(frozen=True, slots=True, kw_only=True)
class BoundSet:
    """A set in a proof: bound by a case or a state until a moment, and why; in words in older plans."""

    set_id: str
    case: str
    until: datetime | None
    bound: Bound | None = None
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """Why the sets there are cannot serve: how many uses overlap at ``instant``, and how many sets there are.

    ``lacking``: sets that the waiting case lacks; ``ready``: sets that stand ready where some must be kept so.
    ``statement``: the proof in words, in older plans.
    """

    instant: datetime
    overlapping: tuple[str, ...]  # case numbers
    sets: tuple[BoundSet, ...]
    lacking: int = 0
    ready: tuple[str, ...] = ()
    statement: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Saving:
    """A step at which minutes could be saved: usual less least."""

    step: str
    station: str
    minutes: int


class RemedyKind(StrEnum):
    """What is changed."""

    COMPLETE = "a set completed or found"
    STAND_IN = "a stand-in tray"
    WITHOUT = "without the tray on hold"
    DIRECT = "handed over at once"
    FASTER = "faster handling"
    SHIFT = "other start in the same room"
    SWAP = "other order in the same room"
    ROOM = "another room"
    BRING = "a set brought from elsewhere"
    ACCEPT = "the gap accepted"
    CANCEL = "case cancelled"  # can be tried, is never proposed

    @classmethod
    def _missing_(cls, value: object) -> RemedyKind | None:
        return cls.STAND_IN if value == "equivalent tray" else None  # as older plans call it


@dataclass(frozen=True, slots=True, kw_only=True)
class ChanceLeft:
    """The share of draws in which a set is late, as the plan says when it is ready, and even when hurried."""

    usual: float
    hurried: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Edit:
    """One change to the schedule or the sets, as ``try`` takes it.

    ``case`` moved to ``start`` and/or ``room``; or a set of ``tray`` (of that ``side``) brought by ``start``;
    or ``step`` of the set for ``case`` done ``minutes`` faster; or ``set_id``, which is recorded as
    incomplete, away or unknown, ready for ``case`` by ``start``; or ``case`` without the ``tray`` on hold; or the
    ``tray`` taken straight to the room of ``case``, there by ``start``; or ``case`` without the ``tray`` until
    ``start`` (None: with fewer kept ready than should be).
    """

    kind: RemedyKind
    case: str = ""
    other_case: str = ""
    tray: str = ""
    stand_in: str = ""
    room: str = ""
    start: datetime | None = None
    step: str = ""
    minutes: int = 0
    set_id: str = ""
    side: Side | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Remedy:
    """A change that was recomputed on the whole plan and removes the conflict without making another.

    ``removes`` are the ids of all conflicts that it removes, or turns tight, its own among them.
    ``until``: the moment until which it is possible; ``people``: how many it touches; ``without``: the minutes for
    which a case does without a tray that should have been on its cart; ``chance_left``: the share of draws in which
    the set is late with it, and even if hurried; None where nothing is left to chance.
    """

    edits: tuple[Edit, ...]
    text: str
    cost: str
    minutes_moved: int
    cases_touched: int
    overtime: int
    delays: tuple[str, ...] = ()
    removes: tuple[str, ...] = ()
    until: datetime | None = None
    people: int = 0
    without: int = 0
    chance_left: float | None = None
    chance_if_hurried: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Conflict:
    """Uses that the sets on hand cannot serve with the turnaround they need.

    ``waiter`` is the case that waits or goes without (for its copy number ``copy`` of the tray, of that ``side``;
    where ``tray`` stands in for what it asks for, of the tray ``asked``), ``givers`` those that bind the sets.
    ``facts``: what its sentence says; older plans have the ``statement``. ``minutes`` short (or to be saved, or of
    slack). ``decide_by``: the last moment at which a decision still helps. ``missing``: what would be needed when
    nothing helps. ``searched``: what the search left out, in words.
    """

    id: str
    kind: ConflictKind
    tray: str
    waiter: str
    givers: tuple[str, ...]
    set_id: str
    minutes: int
    facts: ConflictFacts | None = None
    statement: str = ""
    proof: Proof | None = None
    savings: tuple[Saving, ...] = ()
    decide_by: datetime | None = None
    depends_on: str = ""
    knock_on: tuple[str, ...] = ()
    remedies: tuple[Remedy, ...] = ()
    missing: str = ""
    searched: str = ""
    chance_of_failing: float | None = None
    chance_if_hurried: float | None = None  # where a rush could save some of it
    blame: str = ""
    copy: int = 1
    side: Side | None = None
    asked: str = ""

    @property
    def wanted(self) -> tuple[str, int]:
        """The tray that the waiting case asks for, and which copy of it: what its line is called by."""
        return self.asked or self.tray, self.copy

    @property
    def awaited(self) -> BoundSet | None:
        """The set for which a case waits that goes without, as it is bound till then; None where none is waited for."""
        bound = self.proof.sets if self.kind is ConflictKind.SHORT and self.proof else ()
        return next((one for one in bound if one.set_id == self.set_id), None)

    @property
    def urgency(self) -> tuple[float, int, object]:
        """What must be decided soonest comes first, then the gravest kind, then by id as people read it."""
        moment = self.decide_by.timestamp() if self.decide_by else float("inf")
        return (moment, list(ConflictKind).index(self.kind), natural_key(self.id))

    @property
    def first_loss(self) -> tuple[datetime, int] | None:
        """When the first of its remedies is no longer possible and how many are left then; None where none goes first.

        All are possible until one moment, or there is only one: then that is ``decide_by``.
        """
        moments = [one.until for one in self.remedies if one.until is not None]
        first = min(moments, default=None)
        left = sum(one.until is None or (first is not None and one.until > first) for one in self.remedies)
        return (first, left) if first is not None and left else None

    @property
    def cases(self) -> tuple[str, ...]:
        """The case that waits, then those that bind the sets."""
        return (self.waiter, *self.givers)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cluster:
    """Cases tied together by conflicts: one entry on the conflict sheet."""

    id: str
    cases: tuple[str, ...]
    conflicts: tuple[Conflict, ...]

    @property
    def by_urgency(self) -> tuple[Conflict, ...]:
        """Its conflicts, the one to decide soonest first."""
        return tuple(sorted(self.conflicts, key=lambda one: one.urgency))

    @property
    def urgency(self) -> tuple[object, ...]:
        """That of its most urgent conflict."""
        return min((one.urgency for one in self.conflicts), default=(float("inf"),))


def each_conflict(clusters: Iterable[Cluster], change: Callable[[Conflict], Conflict]) -> tuple[Cluster, ...]:
    """The clusters with what is made of each of their conflicts, one after the other."""
    return tuple(replace(cluster, conflicts=tuple(map(change, cluster.conflicts))) for cluster in clusters)


def conflicts_in(clusters: Iterable[Cluster]) -> tuple[Conflict, ...]:
    """The conflicts of clusters as one list, cluster by cluster."""
    return tuple(conflict for cluster in clusters for conflict in cluster.conflicts)
