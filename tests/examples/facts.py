"""What a plan says, as plain nested words and figures that a scenario's expected.json can name."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Any

from picklist.clock import SiteClock
from picklist.model.conflicts import Cluster, Conflict, RemedyKind
from picklist.model.plan import Cart, Plan
from picklist.model.uses import Reuse, Use
from picklist.wording.say_conflicts import bound_lines, proof_opening, statement

Facts = dict[str, Any]


def facts_of(plan: Plan) -> Facts:
    """Sets by use, needs, conflicts, reuses, runs, carts and what is said of each, times as ``10:45``."""
    clock = plan.settings.site_clock
    return {
        "sets": {_name(one.use): one.set_id for one in plan.assignments},
        "needed": {_name(one.use): clock.hhmm(one.use.needed) for one in plan.assignments},
        "conflicts": {one.id: _conflict(one, clock) for one in _conflicts(plan.clusters)},
        "says": {one.id: said(one, clock) for one in _conflicts(plan.clusters)},
        "earliest start": {one.id: _earliest_start(one, clock) for one in _conflicts(plan.clusters)},
        "reuses": {_of_key(one.waiter_use): _reuse(one, clock) for one in plan.reuses},
        "runs": _runs(plan, clock),
        "steps": _steps(plan, clock),
        "cart": {cart.case.number: _amounts(cart) for cart in plan.carts},
        "picked": {cart.case.number: _picked(cart) for cart in plan.carts},
        "pending": {cart.case.number: " | ".join(one.text for one in cart.needs.pending) for cart in plan.carts},
        "stopped": sorted(cart.case.number for cart in plan.carts if cart.stopped),
    }


def said(conflict: Conflict, clock: SiteClock) -> str:
    """Every sentence of a conflict."""
    about, proof = statement(conflict, clock), (proof_opening(conflict, clock), *bound_lines(conflict, clock))
    return " ".join((about, *proof, conflict.missing, *(one.text for one in conflict.remedies)))


def _conflicts(clusters: tuple[Cluster, ...]) -> Iterator[Conflict]:
    return (conflict for cluster in clusters for conflict in cluster.conflicts)


def _name(use: Use) -> str:
    return _of_key(use.key)


def _of_key(key: str) -> str:
    return key.removesuffix("/1")


def _conflict(conflict: Conflict, clock: SiteClock) -> Facts:
    bound = conflict.proof.sets if conflict.proof else ()
    return {
        "kind": conflict.kind.value,
        "minutes": conflict.minutes,
        "set": conflict.set_id,
        "bound": {one.set_id: _time(one.until, clock) for one in bound},
    }


def _earliest_start(conflict: Conflict, clock: SiteClock) -> str | None:
    """The start that the cheapest remedy gives to the case that waits, when it is moved in its own room."""
    moves = [one.edits[0] for one in conflict.remedies if [e.kind for e in one.edits] == [RemedyKind.SHIFT]]
    starts = [edit.start for edit in moves if edit.case == conflict.waiter and edit.start]
    return _time(min(starts), clock) if starts else None


def _reuse(reuse: Reuse, clock: SiteClock) -> Facts:
    latest = {f"latest {one.act}": clock.hhmm(one.latest) for one in reuse.deadlines}
    return latest | {
        "after": reuse.giver,
        "received": clock.hhmm(reuse.released),
        "ready": clock.hhmm(reuse.ready),
        "slack": reuse.slack,
        "break even": reuse.break_even,
        "unopened ready": _time(reuse.if_unopened_ready, clock),
        "unopened slack": reuse.if_unopened_slack,
    }


def _runs(plan: Plan, clock: SiteClock) -> Facts:
    ways = plan.department.runs if plan.department else ()
    return {
        f"{way.set_id} after {way.from_case}": {
            "received": clock.hhmm(way.released),
            "ready": clock.hhmm(way.alone_ready),
        }
        for way in ways
    }


def _steps(plan: Plan, clock: SiteClock) -> Facts:
    ways = plan.department.runs if plan.department else ()
    return {
        f"{way.set_id} after {way.from_case}": {one.step: clock.hhmm(one.begins) for one in way.steps} for way in ways
    }


def _amounts(cart: Cart) -> dict[str, str]:
    trays = {line.need.thing: line.need for line in cart.trays}
    others = {line.need.thing: line.need for line in cart.goods}
    return {thing: f"{need.open}/{need.hold}" for thing, need in (trays | others).items()}


def _picked(cart: Cart) -> dict[str, int]:
    return {line.need.thing: sum(pick.open + pick.hold for pick in line.picks) for line in cart.goods}


def _time(instant: datetime | None, clock: SiteClock) -> str | None:
    return clock.hhmm(instant) if instant else None
