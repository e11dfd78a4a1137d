"""A plan indexed for the board: who waits, who gives, which set does what, and the names to link by."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import TypeVar
from urllib.parse import quote

from picklist.clock import shift
from picklist.documents.board.axis import axis_of
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.time_strips import wanted_use
from picklist.grouping import grouped
from picklist.letters import natural_key
from picklist.model.conflicts import Conflict, ConflictKind
from picklist.model.known import NO_REPORTS, CartReport
from picklist.model.plan import Cart, Plan
from picklist.model.uses import Reuse

KINDS = tuple(ConflictKind)
LETTERS = (4, 6, 9)  # of numbers in narrow bars; the style has a width for each
K = TypeVar("K")
V = TypeVar("V")


@dataclass(frozen=True, slots=True, kw_only=True)
class Ref:
    """Something named, with the place on the page that says more about it; no ``href`` when there is none."""

    text: str
    href: str = ""


class BoardIndex:
    """Everything of the plan by what the board asks for, with what was reported of its carts; made once for all.

    ``conflicts``: the first to decide comes first; ``clusters`` by the id of a conflict; ``waits``, ``gives`` and
    ``reported`` by case; ``sets_of`` by tray, as people read them; ``uses_of`` by set, in order of time; ``givers_of``
    by set, a case that runs among them; ``runs`` by set and giving case, as ``usual_ready`` of those in a proof;
    ``troubled``: trays of conflicts, and ``trays`` of the day, by name; ``prefix``: how every case number begins.
    """

    def __init__(self, plan: Plan, reported: Mapping[str, CartReport] = NO_REPORTS) -> None:
        found = Lookup(plan)
        of_day = [a for a in plan.assignments if found.clock.day(a.use.starts) == plan.day]
        in_time = sorted(plan.assignments, key=lambda a: (a.use.starts, a.use.key))
        self.plan = plan
        self.found = found
        self.axis = axis_of(found)
        self.carts = {cart.case.number: cart for cart in plan.carts}
        self.conflicts = tuple(sorted(found.conflicts.values(), key=lambda one: one.urgency))
        self.clusters = {one.id: cluster for cluster in plan.clusters for one in cluster.conflicts}
        self.waits = _grouped((one.waiter, one) for one in self.conflicts)
        self.gives = _grouped((giver, one) for one in self.conflicts for giver in one.givers)
        self.sets = {one.id: one for one in plan.sets}
        self.sets_of = _grouped((self.sets[one].tray, one) for one in sorted(self.sets, key=natural_key))
        self.uses_of = _grouped((a.set_id, a) for a in in_time)
        self.givers_of = _grouped((one.set_id, one.giver) for one in plan.reuses)
        self.runs = {(run.set_id, run.from_case): run for run in (plan.department.runs if plan.department else ())}
        bound = [one for conflict in self.conflicts if conflict.proof for one in conflict.proof.sets if one.until]
        self.usual_ready = {(one.set_id, one.case): one.until for one in bound}
        self.troubled = _by_name(found, {one.tray for one in self.conflicts})
        used = {tray for a in of_day for tray in (a.use.tray, a.tray_given)}
        self.trays = _by_name(found, used.union(self.troubled) - {""})
        self.prefix = _prefix([cart.case.number for cart in plan.carts])
        self.reported = reported

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
        use, cart = wanted_use(self.found, conflict), self.carts.get(conflict.waiter)
        return use.needed if use else cart.complete_by if cart else None

    def reuses_of_day(self) -> tuple[Reuse, ...]:
        """Sets that are made usable for a case of the day, or after one; in order of need."""
        day = [one for one in self.plan.reuses if one.waiter in self.carts or one.giver in self.carts]
        return tuple(sorted(day, key=lambda one: (one.needed, one.waiter, natural_key(one.set_id))))


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
