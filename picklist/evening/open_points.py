"""What is open at the end of the shift: one page for the morning, as plain data."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum

from picklist.clock import SiteClock
from picklist.evening.content import beside_short, short_of
from picklist.evening.since_built import NOTHING_SINCE, SinceBuilt
from picklist.model.built import BuiltCart, MissingThing
from picklist.model.conflicts import Conflict
from picklist.model.department import headline
from picklist.model.known import Decision, Known, MatchQuestion, PutBack, conflict_key, conflicts_by_key, shortage_key
from picklist.model.needs import Need
from picklist.model.plan import Cart, Plan, TrayLine
from picklist.model.uses import Deadline, Reuse
from picklist.problems import Problem
from picklist.wording.say_carts import how_far


class KnownFrom(StrEnum):
    """How it is known that a thing is missing."""

    PLAN = "no stock or set for it"
    CREW = "reported by the crew"


@dataclass(frozen=True, slots=True, kw_only=True)
class CartPoint:
    """A cart of which something is open, and what: not built, on hold, or built from a list that another replaced."""

    cart: Cart
    state: str = ""

    @property
    def case(self) -> str:
        """The number of its case."""
        return self.cart.case.number

    @property
    def by(self) -> datetime:
        """When it must be complete."""
        return self.cart.complete_by


@dataclass(frozen=True, slots=True, kw_only=True)
class MissingPoint(CartPoint):
    """So many of a thing that a case needs and lacks; ``who`` reported it."""

    need: Need
    name: str
    open: int
    hold: int
    source: KnownFrom
    who: str
    stood_in: str = ""
    said: Decision | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SetPoint(CartPoint):
    """A set still in process that a case waits for.

    ``next_step`` is its first deadline that is ahead (None: only the cart is left), ``passed``
    those that are over by usual minutes.
    """

    reuse: Reuse
    next_step: Deadline | None
    passed: tuple[Deadline, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DecisionPoint:
    """A conflict that nobody has decided, or whose decision is not in the schedule yet; ``said`` the last word."""

    conflict: Conflict
    said: Decision | None = None

    @property
    def key(self) -> str:
        """Under which a decision on it is recorded."""
        return conflict_key(self.conflict)


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenPoints:
    """Everything that the morning must know, each list in the order in which it presses."""

    plan_revision: int
    at: datetime
    missing: tuple[MissingPoint, ...]
    sets: tuple[SetPoint, ...]
    decisions: tuple[DecisionPoint, ...]
    carts: tuple[CartPoint, ...]
    stopped: tuple[CartPoint, ...]
    questions: tuple[MatchQuestion, ...]
    put_backs: tuple[PutBack, ...]
    to_enter: tuple[DecisionPoint, ...] = ()  # decided, and still to be put into the schedule
    unplaced: tuple[Problem, ...] = ()  # they stop cases that have no day, room or start, and so no cart
    since: SinceBuilt = NOTHING_SINCE

    @property
    def nothing(self) -> bool:
        """Whether the morning finds nothing open."""
        lists = (self.missing, self.sets, self.decisions, self.to_enter, self.carts, self.stopped)
        return not (any(lists) or self.questions or self.put_backs or self.unplaced or self.since)


def open_points(plan: Plan, known: Known, now: datetime, since: SinceBuilt = NOTHING_SINCE) -> OpenPoints:
    """What is open at ``now``: things missing, sets in process, decisions waiting, carts not built.

    Carts that by the schedule of now are not to be delivered (``since``) are left out of all of it.
    """
    todays = [cart for cart in plan.carts if cart.case.number not in since.left_out]
    live = [cart for cart in todays if not cart.stopped]
    missing = [point for cart in live for point in _missing_on(cart, known)]
    carts = [point for cart in live if (point := _unbuilt(cart, known, plan.settings.site_clock))]
    return OpenPoints(
        plan_revision=plan.revision,
        at=now,
        missing=tuple(sorted(missing, key=lambda m: (m.by, m.case, m.need.kind, m.need.thing, m.need.person))),
        sets=tuple(one for one in _sets_in_process(plan, now) if one.case not in since.left_out),
        decisions=_decisions(plan, known.decided, since.left_out, _is_open),
        carts=tuple(sorted(carts, key=lambda c: (c.by, c.case))),
        stopped=tuple(CartPoint(cart=one, state=one.stopped[0].sentence()) for one in todays if one.stopped),
        questions=since.questions or tuple(known.questions),
        put_backs=(*known.put_backs, *since.put_backs),
        to_enter=_decisions(plan, known.decided, since.left_out, _is_to_enter),
        unplaced=plan.unplaced,
        since=since,
    )


def _missing_on(cart: Cart, known: Known) -> list[MissingPoint]:
    """What the plan could not give, and what the crew reported missing beyond that."""
    facts = known.built.get(cart.case.number)
    maker = _Missing(cart=cart, facts=facts, said=known.decided)
    taken = facts.taken if facts else {}
    found = [maker.tray(line) for line in cart.trays if not line.set_id and line.key not in taken]
    found += [maker.item(line.need, line.short_open, line.short_hold) for line in cart.goods if line.is_short]
    for told in beside_short(facts, short_of(cart)).missing if facts else ():
        found += maker.told(told)
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class _Missing:
    """Makes the points of one cart: what the plan lacks, or what was ``told`` missing."""

    cart: Cart
    facts: BuiltCart | None
    said: Mapping[str, Decision]

    def tray(self, line: TrayLine, told: MissingThing | None = None) -> MissingPoint:
        point = self.item(line.need, int(not line.on_hold), int(line.on_hold), told)
        return replace(point, name=line.name_with_side)

    def item(self, need: Need, opened: int, hold: int, told: MissingThing | None = None) -> MissingPoint:
        stood = [s.stood_in for s in (self.facts.stood_in if self.facts else ()) if s.thing == need.thing]
        whole = self.facts.by if self.facts else ""  # whoever built the cart where the line itself does not say
        return MissingPoint(
            cart=self.cart,
            need=need,
            name=need.name,
            open=opened,
            hold=hold,
            source=KnownFrom.CREW if told else KnownFrom.PLAN,
            who="" if told is None else told.by if told.reported_at else whole,
            stood_in=", ".join(stood),
            said=self.said.get(shortage_key(need.thing, self.cart.case.number)),
        )

    def told(self, told: MissingThing) -> list[MissingPoint]:
        """A thing that the crew reported missing beyond what the plan lacked; of it hold lacks first."""
        if told.copy:
            lines = [t for t in self.cart.trays if t.key == (told.thing, told.copy) and t.set_id]
            return [self.tray(line, told) for line in lines]
        points = []
        left = told.quantity
        for line in self.cart.goods:
            need = line.need
            if need.thing != told.thing or (told.person and need.person != told.person):
                continue
            hold = max(0, min(left, need.hold - line.short_hold))
            opened = max(0, min(left - hold, need.open - line.short_open))
            left -= hold + opened
            if hold or opened:
                points.append(self.item(need, opened, hold, told))
        return points


def _sets_in_process(plan: Plan, now: datetime) -> tuple[SetPoint, ...]:
    """Sets that are made usable from their state now and are not ready yet, the most pressing first."""
    points = []
    carts = {cart.case.number: cart for cart in plan.carts}
    runs = plan.department.by_wait() if plan.department else {}
    for reuse in plan.reuses:
        cart, run = carts.get(reuse.waiter), runs.get((reuse.set_id, reuse.waiter))
        if reuse.giver or cart is None or headline(reuse, run).at <= now:
            continue
        points.append(_set_point(reuse, cart, now))
    return tuple(sorted(points, key=lambda p: (p.reuse.slack, p.reuse.needed, p.reuse.set_id)))


def _set_point(reuse: Reuse, cart: Cart, now: datetime) -> SetPoint:
    ahead = [one for one in reuse.deadlines if one.latest >= now]
    passed = tuple(one for one in reuse.deadlines if one.latest < now)
    return SetPoint(cart=cart, reuse=reuse, next_step=min(ahead, key=lambda d: d.latest, default=None), passed=passed)


def _decisions(
    plan: Plan, said: Mapping[str, Decision], left_out: Collection[str], wanted: Callable[[Decision | None], bool]
) -> tuple[DecisionPoint, ...]:
    """Conflicts whose last word is as wanted, the most urgent first."""
    points = [
        DecisionPoint(conflict=one, said=said.get(key))
        for key, one in conflicts_by_key(plan).items()
        if one.waiter not in left_out and wanted(said.get(key))
    ]
    return tuple(sorted(points, key=lambda point: point.conflict.urgency))


def _is_open(said: Decision | None) -> bool:
    return said is None or not said.is_settled


def _is_to_enter(said: Decision | None) -> bool:
    return said is not None and said.to_enter


def _unbuilt(cart: Cart, known: Known, clock: SiteClock) -> CartPoint | None:
    facts = known.built.get(cart.case.number)
    counts = known.revisions.get(cart.case.number, facts.revision if facts else 0)
    if facts and facts.is_finished(counts):
        return None
    return CartPoint(cart=cart, state=how_far(facts, counts, clock))
