"""A plan indexed for the board: who waits, who gives, which set does what, and the names to link by."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import TypeVar
from urllib.parse import quote

from picklist.clock import shift
from picklist.documents.board.axis import Axis, axis_of
from picklist.documents.views.lookup import Lookup, look_up
from picklist.grouping import grouped
from picklist.letters import natural_key
from picklist.model.conflicts import Cluster, Conflict, ConflictKind
from picklist.model.department import ReuseChance, SetRun
from picklist.model.known import NO_REPORTS, CartReport
from picklist.model.plan import Cart, Plan
from picklist.model.sets import InstrumentSet
from picklist.model.uses import Assignment, Reuse

KINDS = tuple(ConflictKind)
LETTERS = (4, 6, 9)  # of numbers in narrow bars; the style has a width for each
K = TypeVar("K")
V = TypeVar("V")


@dataclass(frozen=True, slots=True, kw_only=True)
class Ref:
    """Something named, with the place on the page that says more about it; no ``href`` when there is none."""

    text: str
    href: str = ""


@dataclass(frozen=True, slots=True)
class BoardIndex:
    """Everything of the plan by what the board asks for."""

    found: Lookup
    axis: Axis
    carts: dict[str, Cart]
    conflicts: tuple[Conflict, ...]  # the first to decide comes first
    clusters: dict[str, Cluster]  # by the id of a conflict
    waits: dict[str, tuple[Conflict, ...]]  # by case
    gives: dict[str, tuple[Conflict, ...]]  # by case
    sets: dict[str, InstrumentSet]
    sets_of: dict[str, tuple[str, ...]]  # by tray, as people read them
    uses_of: dict[str, tuple[Assignment, ...]]  # by set, in order of time
    runs: dict[tuple[str, str], SetRun]  # by set and giving case
    chances: dict[tuple[str, str], ReuseChance]  # by set and waiting case
    troubled: tuple[str, ...]  # trays of conflicts, by name
    trays: tuple[str, ...]  # trays of the day, by name
    prefix: str  # with which every case number of the day begins
    reported: Mapping[str, CartReport]  # by case

    @property
    def plan(self) -> Plan:
        """The plan itself."""
        return self.found.plan

    def case_ref(self, number: str) -> Ref:
        """A case; it has a place on the board when its cart is of the day."""
        return Ref(text=number, href=case_href(number) if number in self.carts else "")

    def state(self, number: str) -> str:
        """How far a case's cart is, in words; empty when nothing was reported."""
        return self.reported[number].state if number in self.reported else ""

    def short(self, number: str) -> str:
        """A case number without what all numbers of the day begin with, for narrow bars; of a long one its end."""
        short = number.removeprefix(self.prefix) if number in self.carts else number
        return short if len(short) <= LETTERS[-1] else f"…{short[1 - LETTERS[-1] :]}"

    def tray_ref(self, tray: str) -> Ref:
        """A tray by name."""
        return Ref(text=self.found.tray(tray), href=tray_href(tray) if tray in self.trays else "")

    def conflict_refs(self, ids: Iterable[str]) -> tuple[tuple[str, Ref], ...]:
        """The kind of each conflict, and the conflict by its kind, tray and waiting case."""
        made = []
        for one in (self.found.conflicts[i] for i in ids if i in self.found.conflicts):
            text = f"{one.kind.value}: {self.found.tray_wanted(one)} for {one.waiter}"
            made.append((one.kind.value, Ref(text=text, href=conflict_href(one.id))))
        return tuple(made)

    def starts(self, cart: Cart) -> datetime:
        """Wheels-in of a case of the day."""
        return shift(cart.complete_by, self.plan.settings.setup_lead)

    def ends(self, cart: Cart) -> datetime:
        """Wheels-out of a case of the day."""
        return shift(self.starts(cart), cart.case.minutes)

    def needed(self, conflict: Conflict) -> datetime | None:
        """When the tray of a conflict must be on the waiting case's cart; None when it is not known."""
        for one in self.plan.assignments:
            if one.use.case == conflict.waiter and conflict.tray in (one.use.tray, one.tray_given):
                return one.use.needed
        cart = self.carts.get(conflict.waiter)
        return cart.complete_by if cart else None

    def reuses_of_day(self) -> tuple[Reuse, ...]:
        """Sets that are made usable for a case of the day, or after one; in order of need."""
        day = [one for one in self.plan.reuses if one.waiter in self.carts or one.giver in self.carts]
        return tuple(sorted(day, key=lambda one: (one.needed, one.waiter, natural_key(one.set_id))))


def index_plan(plan: Plan, reported: Mapping[str, CartReport] = NO_REPORTS) -> BoardIndex:
    """Index a plan, with what was reported of its carts by case; done once for the whole board."""
    found = look_up(plan)
    conflicts = tuple(sorted(found.conflicts.values(), key=lambda one: one.urgency))
    sets = {one.id: one for one in plan.sets}
    runs = plan.department.runs if plan.department else ()
    of_day = [a for a in plan.assignments if found.clock.day(a.use.starts) == plan.day]
    used = {tray for a in of_day for tray in (a.use.tray, a.tray_given)}
    troubled = {one.tray for one in conflicts}
    return BoardIndex(
        found=found,
        axis=axis_of(found),
        carts={cart.case.number: cart for cart in plan.carts},
        conflicts=conflicts,
        clusters={one.id: cluster for cluster in plan.clusters for one in cluster.conflicts},
        waits=_grouped((one.waiter, one) for one in conflicts),
        gives=_grouped((giver, one) for one in conflicts for giver in one.givers),
        sets=sets,
        sets_of=_grouped((sets[one].tray, one) for one in sorted(sets, key=natural_key)),
        uses_of=_grouped((a.set_id, a) for a in sorted(plan.assignments, key=lambda a: (a.use.starts, a.use.key))),
        runs={(run.set_id, run.from_case): run for run in runs},
        chances={(one.set_id, one.waiter): one for one in plan.chance.reuses} if plan.chance else {},
        troubled=_by_name(found, troubled),
        trays=_by_name(found, (used | troubled) - {""}),
        prefix=_prefix([cart.case.number for cart in plan.carts]),
        reported=reported,
    )


def _grouped(pairs: Iterable[tuple[K, V]]) -> dict[K, tuple[V, ...]]:
    return {key: tuple(values) for key, values in grouped(pairs).items()}


def _prefix(numbers: list[str]) -> str:
    """What is before the digits, where all numbers share it."""
    heads = {match.group() if (match := re.match(r"\D+(?=\d)", number)) else "" for number in numbers}
    return heads.pop() if len(heads) == 1 else ""


def _by_name(found: Lookup, trays: set[str]) -> tuple[str, ...]:
    return tuple(sorted(trays, key=lambda tray: (natural_key(found.tray(tray)), tray)))


def kinds_of(conflicts: Iterable[Conflict]) -> tuple[str, ...]:
    """The kinds of some conflicts, each once, the gravest first."""
    return tuple(kind.value for kind in sorted({one.kind for one in conflicts}, key=KINDS.index))


def case_href(number: str) -> str:
    """The deep link of a case; without its first sign it is the id of the case's leaf."""
    return f"#case={_safe(number)}"


def tray_href(tray: str) -> str:
    """The deep link of a tray."""
    return f"#tray={_safe(tray)}"


def conflict_href(conflict: str) -> str:
    """The deep link of a conflict."""
    return f"#conflict={_safe(conflict)}"


def _safe(name: str) -> str:
    return quote(name, safe="/-_.~")
