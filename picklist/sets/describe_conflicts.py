"""Describe each conflict of a plan: its sentence, proof, savings and who is late because of it."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from picklist.model.conflicts import Conflict, ConflictKind, Saving
from picklist.model.routes import Step
from picklist.model.sets import InstrumentSet
from picklist.model.uses import Act, Pace, Reuse, Use
from picklist.sets.allocate_group import GroupPlan, Service
from picklist.sets.conflict_words import (
    conditional_words,
    reserve_words,
    rush_words,
    short_words,
    tight_words,
)
from picklist.sets.find_conflicts import FoundConflict
from picklist.sets.followers import Followers
from picklist.sets.gap import prove_gap
from picklist.sets.planning_context import PlanningContext
from picklist.sets.proof import prove, soonest_set
from picklist.sets.savings import rush_by, savings_of, way_steps
from picklist.sets.states import home_of, ready_for


def describe_conflicts(context: PlanningContext, plan: GroupPlan, followers: Followers) -> tuple[Conflict, ...]:
    """Describe all conflicts of one tray group, in order of need."""
    return tuple(describe(context, plan, followers, bare) for bare in plan.conflicts_found)


def describe(context: PlanningContext, plan: GroupPlan, followers: Followers, bare: FoundConflict) -> Conflict:
    """Describe a conflict: its sentence, proof, savings, and which cases it would delay."""
    service = next((one for one in plan.services if one.use.key == bare.use.key), None)
    if service is None:
        return _short(context, plan, followers, bare)
    if bare.kind is ConflictKind.RESERVE:
        return _reserve(context, plan, bare, service)
    return _close_call(context, plan, followers, bare, service)


def _short(context: PlanningContext, plan: GroupPlan, followers: Followers, bare: FoundConflict) -> Conflict:
    use = bare.use
    soonest = soonest_set(context, plan, use)
    proof = prove(context, plan, use)
    savings: tuple[Saving, ...] = ()
    if soonest is not None:
        state = plan.states[soonest.one.id]
        savings = savings_of(way_steps(context, soonest.one, state, soonest.reuse, use), soonest.reuse)
    return Conflict(
        id=bare.id,
        kind=bare.kind,
        tray=use.tray,
        waiter=use.case,
        copy=use.copy,
        side=use.side,
        givers=tuple(case for case in proof.overlapping if case != use.case),
        set_id=soonest.one.id if soonest else "",
        minutes=bare.minutes,
        statement=short_words(context, plan, use, soonest, proof),
        proof=proof,
        savings=savings,
        decide_by=use.needed,
        knock_on=followers.knock_on(use.case, bare.minutes) if bare.minutes else (),
    )


def _reserve(context: PlanningContext, plan: GroupPlan, bare: FoundConflict, service: Service) -> Conflict:
    use, tray = bare.use, service.one.tray
    busy = _sets_out(context, plan, use, tray)
    standing = sum(_stands(context, plan, one, use) for one in plan.sets.values() if one.tray == tray)
    keep = context.site.trays[tray].keep_ready
    # Where fewer exist than are to be kept, taking one makes the depth that is counted; what is left is less still.
    left = max(0, min(keep, standing) - bare.minutes)
    proof = prove_gap(context, plan, use, tray)
    return Conflict(
        id=bare.id,
        kind=bare.kind,
        tray=tray,
        waiter=use.case,
        givers=tuple(case for case in busy if case != use.case),
        set_id=service.one.id,
        minutes=keep - left,
        statement=reserve_words(context, use, tray, left, proof.ends),
        proof=proof.proof,
        decide_by=use.needed,
    )


def _sets_out(context: PlanningContext, plan: GroupPlan, use: Use, tray: str) -> list[str]:
    """The cases that have a set of a tray at the need of a use, or from which it is still on its way back."""
    out = []
    for service in plan.services:
        other = service.use
        if service.one.tray == tray and other.needed <= use.needed:
            back = context.turnaround.free_after(other, tray, Pace.USUAL)
            if back is None or back > use.needed:
                out.append(other.case)
    return list(dict.fromkeys(out))


def _stands(context: PlanningContext, plan: GroupPlan, one: InstrumentSet, use: Use) -> bool:
    """Whether a set would stand ready somewhere by the need of a use if no case had had it before."""
    anywhere = replace(use, building="")
    ready = ready_for(context.turnaround, replace(plan.states[one.id], until=None), anywhere)
    return ready is not None and ready <= use.needed


def _close_call(
    context: PlanningContext, plan: GroupPlan, followers: Followers, bare: FoundConflict, service: Service
) -> Conflict:
    use, reuse = bare.use, service.reuse
    if reuse is None:
        raise AssertionError(f"{bare.kind} without a reuse: {use.key}")
    state = plan.states[service.one.id]
    steps = way_steps(context, service.one, state, reuse, use)
    savings = savings_of(steps, reuse)
    margin = context.site.settings.margin
    late = margin - bare.minutes if bare.kind is ConflictKind.TIGHT else bare.minutes
    return Conflict(
        id=bare.id,
        kind=bare.kind,
        tray=use.tray,
        waiter=use.case,
        copy=use.copy,
        side=use.side,
        givers=(reuse.giver,) if reuse.giver else (),
        set_id=service.one.id,
        minutes=bare.minutes,
        statement=_WORDS[bare.kind](context, use, reuse, savings),
        savings=savings,
        decide_by=_decide_by(context, bare, service, reuse, steps),
        depends_on=_depends_on(bare, service),
        knock_on=followers.knock_on(use.case, max(1, late)),
    )


_WORDS = {
    ConflictKind.RUSH: rush_words,
    ConflictKind.CONDITIONAL: conditional_words,
    ConflictKind.TIGHT: tight_words,
}


def _decide_by(
    context: PlanningContext, bare: FoundConflict, service: Service, reuse: Reuse, steps: tuple[Step, ...]
) -> datetime:
    """Until when a decision helps. Rush: until the last step at which hurrying is enough.

    On a held tray: until its case may open it. Tight: until the set must have left the room, or started,
    by usual minutes.
    """
    if bare.kind is ConflictKind.RUSH:
        home = home_of(context.turnaround, service.one)
        return rush_by(context, steps, reuse, home, bare.use.building) or reuse.released
    if bare.kind is ConflictKind.CONDITIONAL and service.after is not None:
        return service.after.starts
    leaves = reuse.deadline_of(Act.OUT_OF_ROOM)
    return leaves.latest if leaves else reuse.deadlines[0].latest


def _depends_on(bare: FoundConflict, service: Service) -> str:
    if bare.kind is not ConflictKind.CONDITIONAL or service.after is None:
        return ""
    return f"whether case {service.after.case} opens {service.one.id}, which it has on hold"
