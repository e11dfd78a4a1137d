"""Describe each conflict of a plan: what there is to say, proof, savings and who is late because of it."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from datetime import datetime

from picklist.model.conflict_facts import ConflictFacts, Decider, KeptSet, Later, Reserve, Shortage
from picklist.model.conflicts import Conflict, ConflictKind, Proof, Saving
from picklist.model.routes import Step
from picklist.model.uses import Act, Pace, Reuse, Use
from picklist.sets.allocate_group import GroupPlan, Service
from picklist.sets.allocation.terms import Level
from picklist.sets.find_conflicts import FoundConflict
from picklist.sets.followers import Followers, shifted
from picklist.sets.gap import prove_gap, stands
from picklist.sets.planning_context import PlanningContext
from picklist.sets.proof import Soonest, goes_before, kept_for_later, prove, soonest_set
from picklist.sets.savings import rush_by, savings_of, way_steps


def describe_conflicts(
    context: PlanningContext, plan: GroupPlan, followers: Followers, only_of: Collection[str] | None = None
) -> tuple[Conflict, ...]:
    """Describe the conflicts of one tray group, in order of need: all, or only those of some cases."""
    found = (bare for bare in plan.conflicts_found if only_of is None or bare.use.case in only_of)
    return tuple(describe(context, plan, followers, bare) for bare in found)


def describe(context: PlanningContext, plan: GroupPlan, followers: Followers, bare: FoundConflict) -> Conflict:
    """Describe a conflict: its facts, proof, savings, and which cases it would delay."""
    if bare.id not in plan.described:
        plan.described[bare.id] = _describe(context, plan, bare)
    conflict, late = plan.described[bare.id]
    return replace(conflict, knock_on=followers.knock_on(bare.use.case, late)) if late else conflict


def _describe(context: PlanningContext, plan: GroupPlan, bare: FoundConflict) -> tuple[Conflict, int]:
    """What a group's plan alone says of a conflict, and the minutes by which others may be late because of it."""
    service = next((one for one in plan.services if one.use.key == bare.use.key), None)
    if service is None:
        return _short(context, plan, bare), bare.minutes or 0
    if bare.kind is ConflictKind.RESERVE:
        return _reserve(context, plan, bare, service), 0
    margin = context.site.settings.margin
    late = margin - bare.minutes if bare.kind is ConflictKind.TIGHT else bare.minutes
    return _close_call(context, plan, bare, service), max(1, late)


def _short(context: PlanningContext, plan: GroupPlan, bare: FoundConflict) -> Conflict:
    use = bare.use
    soonest = soonest_set(context, plan, use)
    proof = prove(context, plan, use)
    savings: tuple[Saving, ...] = ()
    if soonest is not None:
        state = plan.states[soonest.one.id]
        savings = savings_of(way_steps(context, state, soonest.after, use), soonest.reuse)
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
        facts=_short_facts(context, plan, use, soonest, proof),
        proof=proof,
        savings=savings,
        decide_by=use.needed,
    )


def _reserve(context: PlanningContext, plan: GroupPlan, bare: FoundConflict, service: Service) -> Conflict:
    use, tray = bare.use, service.one.tray
    busy = _sets_out(context, plan, use, tray)
    standing = sum(stands(context, plan, one, use) for one in plan.sets.values() if one.tray == tray)
    keep = context.site.trays[tray].keep_ready
    # Where fewer exist than are to be kept, taking one makes the depth that is counted; what is left is less still.
    left = max(0, min(keep, standing) - bare.minutes)
    proof = prove_gap(context, plan, use, tray)
    return Conflict(
        id=bare.id,
        kind=bare.kind,
        tray=tray,
        waiter=use.case,
        copy=use.copy,
        side=use.side,
        asked=use.tray if use.tray != tray else "",
        givers=tuple(case for case in busy if case != use.case),
        set_id=service.one.id,
        minutes=keep - left,
        facts=ConflictFacts(
            tray=context.site.tray_name(tray),
            needed=use.needed,
            reserve=Reserve(left=left, keep=keep, until=proof.ends),
        ),
        proof=proof.proof,
        decide_by=use.needed,
    )


def _sets_out(context: PlanningContext, plan: GroupPlan, use: Use, tray: str) -> list[str]:
    """The cases that have a set of a tray at the need of a use, or from which it is still on its way back."""
    out = []
    for service in plan.services:
        other = service.use
        if service.one.tray == tray and other.needed <= use.needed:
            home = plan.states[service.one.id].home
            back = context.turnaround.free_after(other, tray, Pace.USUAL, home, home)
            if back is None or back > use.needed:
                out.append(other.case)
    return list(dict.fromkeys(out))


def _close_call(context: PlanningContext, plan: GroupPlan, bare: FoundConflict, service: Service) -> Conflict:
    use, reuse = bare.use, service.reuse
    if reuse is None:
        raise AssertionError(f"{bare.kind} without a reuse: {use.key}")
    state = plan.states[service.one.id]
    steps = way_steps(context, state, service.after, use)
    savings = savings_of(steps, reuse)
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
        facts=_facts(context, use, reuse),
        savings=savings,
        decide_by=_decide_by(context, bare, service, reuse, (steps, state.home)),
    )


def _decide_by(
    context: PlanningContext,
    bare: FoundConflict,
    service: Service,
    reuse: Reuse,
    way: tuple[tuple[Step, ...], str],
) -> datetime:
    """Until when a decision helps. Rush: until the last step at which hurrying is enough.

    On a held tray: until its case may open it. Tight: until the set must have left the room, or started,
    by usual minutes. ``way``: the steps to the use, and the building in which the set is then ready.
    """
    steps, home = way
    if bare.kind is ConflictKind.RUSH:
        return rush_by(context, steps, reuse, home, bare.use.building) or reuse.released
    if bare.kind is ConflictKind.CONDITIONAL and service.after is not None:
        return service.after.starts
    leaves = reuse.deadline_of(Act.OUT_OF_ROOM)
    return leaves.latest if leaves else reuse.deadlines[0].latest


def _facts(context: PlanningContext, use: Use, reuse: Reuse | None) -> ConflictFacts:
    """What there is to say of every conflict about the way of a set."""
    giver = context.turnaround.cases.get(reuse.giver) if reuse else None
    return ConflictFacts(
        tray=context.site.tray_name(use.tray),
        needed=use.needed,
        reuse=reuse,
        standing_in=context.site.tray_name(reuse.tray) if reuse and reuse.tray != use.tray else "",
        room=giver.room if giver else "",
        margin=context.site.settings.margin,
    )


def _short_facts(
    context: PlanningContext, plan: GroupPlan, use: Use, soonest: Soonest | None, proof: Proof
) -> ConflictFacts:
    given, lacking = plan.of_case(use.case, use.tray), plan.lacking(use.case, use.tray)
    reuse = soonest.reuse if soonest else None
    act = reuse.deadline_of(Act.INTO_DECONTAMINATION) or reuse.deadline_of(Act.OUT_OF_ROOM) if reuse else None
    arrives = reuse.deadline_of(Act.ARRIVED) if reuse else None
    shortage = Shortage(
        wanted=len(given) + len(lacking),
        gets=tuple(one.one.id for one in given),
        first=goes_before(plan, use),
        kept=tuple(KeptSet(set_id=one.id, case=later.case) for one, later in kept_for_later(context, plan, use)),
        kept_next=_kept_next(context, plan, use, soonest) if soonest else None,
        by=act if soonest and soonest.after else arrives,
        arrives=reuse.released if reuse and arrives else None,
        giver_starts=soonest.after.starts if soonest and soonest.after else None,
        decider=_decider(plan, use),
        equal=_equals(context, use, proof),
        rule=context.site.settings.tie_break.value,
    )
    return replace(_facts(context, use, reuse), shortage=shortage)


def _kept_next(context: PlanningContext, plan: GroupPlan, use: Use, soonest: Soonest) -> Later | None:
    """The case for which the soonest set is kept and which could not have it back if this one waited for it."""
    one, after = soonest.one, soonest.after.key if soonest.after else ""
    following = [each.use for each in plan.on_set(one.id) if (each.after.key if each.after else "") == after]
    if not following:
        return None
    waiting, nearest = shifted(use, -soonest.reuse.slack), following[0]
    home = plan.states[one.id].home
    back = context.turnaround.free_after(waiting, one.tray, Pace.USUAL, home, nearest.building)
    in_time = back is not None and back <= nearest.needed
    return None if in_time else Later(case=nearest.case, needed=nearest.needed, back=back)


_DECIDERS = {
    Level.OPEN: Decider.OPEN,
    Level.HELD: Decider.HELD,
    Level.CERTAIN: Decider.CERTAIN,
    Level.BUILT: Decider.BUILT,
    Level.EXACT: Decider.EXACT,
    Level.LATE: Decider.LATE,
}


def _decider(plan: GroupPlan, use: Use) -> Decider | None:
    """What decided that a use goes without."""
    level = plan.decided_against(use)
    if level is None:
        return None
    return Decider.OPEN_FIRST if level is Level.OPEN and use.on_hold else _DECIDERS.get(level, Decider.RULE)


def _equals(context: PlanningContext, use: Use, proof: Proof) -> tuple[str, ...]:
    """The cases in the proof that have the same priority."""
    cases = context.turnaround.cases
    others = (one for one in proof.overlapping if one != use.case and one in cases)
    return tuple(one for one in others if cases[one].priority == use.weight)
