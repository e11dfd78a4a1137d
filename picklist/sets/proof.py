"""Why the sets on hand cannot serve a use: the instant, who has each set, and until when."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from picklist.model.conflict_facts import Binding, Bound, Later
from picklist.model.conflicts import BoundSet, Proof
from picklist.model.sets import InstrumentSet
from picklist.model.uses import Pace, Reuse, Use
from picklist.sets.allocate_group import GroupPlan, Service
from picklist.sets.fitting import fits, fits_side
from picklist.sets.planning_context import PlanningContext, choices
from picklist.sets.reuse import reuse_after, reuse_from_state
from picklist.sets.states import Availability, is_gone


@dataclass(frozen=True, slots=True, kw_only=True)
class Soonest:
    """The set that comes free for a use after its need, and the reuse that is too late."""

    one: InstrumentSet
    after: Use | None
    reuse: Reuse


@dataclass(frozen=True, slots=True, kw_only=True)
class _Hold:
    """Who has a set, a service or its state now, and how it comes from there to the use (None: never)."""

    service: Service | None
    reuse: Reuse | None


def soonest_set(context: PlanningContext, plan: GroupPlan, use: Use) -> Soonest | None:
    """The set that comes free for a use without one, by usual minutes; None when none ever does."""
    coming = next(coming for one, coming in plan.unserved if one.key == use.key)
    if coming is None:
        return None
    one = plan.sets[coming.copy]
    after = next((service for service in plan.services if service.use.key == coming.after), None)
    reuse = _reuse(context, plan, one, after, use)
    return Soonest(one=one, after=after.use if after else None, reuse=reuse) if reuse else None


def goes_before(plan: GroupPlan, use: Use) -> tuple[str, ...]:
    """Sets that come free sooner, but for something else that the case lacks."""
    of_case = [(one.key, coming) for one, coming in plan.unserved if one.case == use.case]
    mine = dict(of_case)[use.key]
    others = [(one.minutes, one.copy) for key, one in of_case if one is not None and key != use.key]
    return tuple(copy for free, copy in sorted(others) if mine is None or (free, copy) < (mine.minutes, mine.copy))


def suitable_sets(context: PlanningContext, plan: GroupPlan, use: Use) -> tuple[InstrumentSet, ...]:
    """The sets that may serve a use at some time, the tray asked for first."""
    preference = dict(choices(context.site, use))
    found = []
    for one in plan.sets.values():
        state = plan.states[one.id]
        gone = is_gone(context.turnaround, state, use)
        usable = one.tray in preference and not gone and not state.why_never
        if usable and fits(context.site.trays.get(one.tray), one, use):
            found.append(one)
    return tuple(sorted(found, key=lambda one: (preference[one.tray], one.id)))


def kept_for_later(context: PlanningContext, plan: GroupPlan, use: Use) -> tuple[tuple[InstrumentSet, Use], ...]:
    """The sets that stand ready at a use's need and go to a later one, each with that one."""
    found = []
    for one in suitable_sets(context, plan, use):
        later = next((each.use for each in plan.on_set(one.id) if each.use.needed > use.needed), None)
        ready = _comes_here(context, plan, one, use) and _holder(context, plan, one, use, use.needed) is None
        if ready and later is not None:
            found.append((one, later))
    return tuple(found)


def prove(context: PlanningContext, plan: GroupPlan, use: Use) -> Proof:
    """The proof that a use goes without a set in the plan."""
    instant = _tightest(context, plan, use)
    bound = tuple(_bound(context, plan, one, use, instant) for one in _all_sets(context, plan, use))
    at_once = [one.case for one in bound if one.case]
    overlapping = tuple(dict.fromkeys((*at_once, use.case)))
    return Proof(
        instant=instant,
        overlapping=overlapping,
        sets=bound,
        lacking=len(plan.lacking(use.case, use.tray)),
    )


def _reuse(
    context: PlanningContext, plan: GroupPlan, one: InstrumentSet, after: Service | None, use: Use
) -> Reuse | None:
    if after is not None:
        home = plan.states[one.id].home
        return reuse_after(context.turnaround, one, after.use, use, after.record_ends, home=home)
    return reuse_from_state(context.turnaround, one, plan.states[one.id], use)


def _all_sets(context: PlanningContext, plan: GroupPlan, use: Use) -> list[InstrumentSet]:
    """Suitable sets, then those of the tray asked for that cannot serve."""
    suitable = suitable_sets(context, plan, use)
    known = {one.id for one in suitable}
    rest = [one for one in plan.sets.values() if one.tray == use.tray and one.id not in known]
    return [*suitable, *sorted(rest, key=lambda one: one.id)]


def _tightest(context: PlanningContext, plan: GroupPlan, use: Use) -> datetime:
    """The first moment from the need on at which no suitable set is free; the need when there is none."""
    sets = tuple(one for one in suitable_sets(context, plan, use) if _comes_here(context, plan, one, use))
    back = _back(context, plan, sets, use)
    moments = sorted(
        {use.needed, *(service.use.needed for service in plan.services if service.use.needed > use.needed)}
    )
    for moment in moments:
        if back is not None and moment >= back:
            break
        if all(_holder(context, plan, one, use, moment) for one in sets):
            return moment
    return use.needed


def _back(context: PlanningContext, plan: GroupPlan, sets: tuple[InstrumentSet, ...], use: Use) -> datetime | None:
    """When a set given to the use would be ready again, the earliest of the sets."""
    turnaround = context.turnaround
    ends = [turnaround.free_after(use, one.tray, Pace.USUAL, plan.states[one.id].home, use.building) for one in sets]
    return min((end for end in ends if end is not None), default=None)


def _comes_here(context: PlanningContext, plan: GroupPlan, one: InstrumentSet, use: Use) -> bool:
    """Whether a way leads from the set's building to that of the use."""
    return context.turnaround.timed_route_of((), Pace.USUAL, plan.states[one.id].home, use.building) is not None


def _holder(context: PlanningContext, plan: GroupPlan, one: InstrumentSet, use: Use, moment: datetime) -> _Hold | None:
    """Who has the set at a moment, if anyone: a case before it, or its state until it is ready first.

    What the case of the use is given itself is back only after that case, so that it is no help at any moment.
    """
    services = plan.on_set(one.id)
    own = next((service for service in services if service.use.case == use.case), None)
    taken = [service for service in services if service.use.needed <= moment]
    last = own or (taken[-1] if taken else None)
    reuse = _reuse(context, plan, one, last, use)
    if reuse is None:
        return _Hold(service=last, reuse=None) if last else None
    return None if reuse.ready <= moment and own is None else _Hold(service=last, reuse=reuse)


def _bound(context: PlanningContext, plan: GroupPlan, one: InstrumentSet, use: Use, moment: datetime) -> BoundSet:
    state = plan.states[one.id]
    plain = _plain_bound(context, plan, one, use)
    if plain is not None:
        return BoundSet(set_id=one.id, case="", until=None, bound=plain)
    hold = _holder(context, plan, one, use, moment)
    if hold is not None:
        case = hold.service.use.case if hold.service else state.giver
        ready = hold.reuse.ready if hold.reuse else None
        return BoundSet(set_id=one.id, case=case, until=ready, bound=_held(context, plan, one, hold, use))
    return _promised(context, plan, one, use, moment)


def _plain_bound(context: PlanningContext, plan: GroupPlan, one: InstrumentSet, use: Use) -> Bound | None:
    """Why a set can never serve a use, whoever has it; None for one that can."""
    state = plan.states[one.id]
    if state.why_never:
        return Bound(binding=Binding.NEVER, text=state.why_never)
    tray = context.site.trays.get(one.tray)
    if not fits(tray, one, use):
        return Bound(binding=Binding.MISFIT, text=one.size if fits_side(tray, one, use) else one.side or "")
    if is_gone(context.turnaround, state, use):
        return Bound(binding=Binding.LOAN_ENDS, loan_until=state.until)
    if not _comes_here(context, plan, one, use):
        return Bound(binding=Binding.NO_TRANSFER, text=state.home, to=use.building)
    return None


def _held(context: PlanningContext, plan: GroupPlan, one: InstrumentSet, hold: _Hold, use: Use) -> Bound:
    """Who has a set, and what keeps it from the use when it is ready."""
    bound, reuse, state = _by_whom(context, plan, one, hold, use), hold.reuse, plan.states[one.id]
    if reuse is None:
        return _without_way_back(context, bound, hold, state)
    too_soon = is_gone(context.turnaround, state, use, -reuse.slack)
    return replace(
        bound,
        hurried=reuse.least_ready if reuse.least_ready < reuse.ready else None,
        unopened=reuse.if_unopened_ready,
        loan_until=state.until if too_soon else None,
        elsewhere=not too_soon and one.id in goes_before(plan, use),
        later=None if too_soon else _kept(context, plan, one, hold, use),
    )


def _without_way_back(context: PlanningContext, bound: Bound, hold: _Hold, state: Availability) -> Bound:
    """With the way home that a used set lacks, where that is why it never comes back."""
    used_in = hold.service.use.building if hold.service else ""
    if context.turnaround.steps_after(state.tray, used_in, state.home) is not None:
        return bound
    return replace(bound, used_in=used_in, to=state.home)


def _by_whom(context: PlanningContext, plan: GroupPlan, one: InstrumentSet, hold: _Hold, use: Use) -> Bound:
    if hold.service is None:
        state = hold.reuse.from_state if hold.reuse else plan.states[one.id].from_state
        return Bound(binding=Binding.STATE, text=state)
    giver = hold.service.use
    if giver.case != use.case:
        return Bound(binding=Binding.ON_HOLD if giver.on_hold else Binding.CASE, ends=giver.ends)
    if giver.tray != use.tray:
        return Bound(binding=Binding.OWN, text=context.site.tray_name(giver.tray))
    wanted = len(plan.of_case(use.case, use.tray)) + len(plan.lacking(use.case, use.tray))
    return Bound(binding=Binding.OWN, wanted=wanted)


def _kept(context: PlanningContext, plan: GroupPlan, one: InstrumentSet, hold: _Hold, use: Use) -> Later | None:
    """The later case to which a set goes that could be there in a rush, or unopened."""
    reuse = hold.reuse
    if reuse is None or not (reuse.least_slack >= 0 or reuse.hangs_on_opening):
        return None
    begins = hold.service.use.needed if hold.service else None
    later = [each.use for each in plan.on_set(one.id) if begins is None or each.use.needed > begins]
    return _kept_for(context, one, use, later[0]) if later else None


def _promised(context: PlanningContext, plan: GroupPlan, one: InstrumentSet, use: Use, moment: datetime) -> BoundSet:
    """A set that is free at the moment: who needs it before this case could give it back."""
    next_use = next((service.use for service in plan.on_set(one.id) if service.use.needed > moment), None)
    if next_use is None:
        return BoundSet(set_id=one.id, case="", until=None, bound=Bound(binding=Binding.TOO_LATE))
    later = _kept_for(context, one, use, next_use)
    return BoundSet(set_id=one.id, case=later.case, until=later.back, bound=Bound(binding=Binding.KEPT, later=later))


def _kept_for(context: PlanningContext, one: InstrumentSet, use: Use, later: Use) -> Later:
    """That a set is kept for a later use, and when this one would give it back to it."""
    reuse = reuse_after(context.turnaround, one, use, later)
    if reuse is None:
        return Later(case=later.case, needed=later.needed)
    hurried = reuse.least_ready if reuse.least_ready < reuse.ready else None
    return Later(case=later.case, needed=later.needed, back=reuse.ready, hurried=hurried)
