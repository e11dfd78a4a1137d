"""How long fewer sets of a tray stand ready than are to be kept, and where each of them is meanwhile."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from picklist.clock import minutes_between
from picklist.model.conflict_facts import Binding, Bound
from picklist.model.conflicts import BoundSet, Proof
from picklist.model.sets import InstrumentSet
from picklist.model.uses import Pace, Use
from picklist.sets.allocate_group import GroupPlan, Service
from picklist.sets.followers import shifted
from picklist.sets.planning_context import PlanningContext
from picklist.sets.reuse import when_record_ends
from picklist.sets.states import ready_for


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """The proof of a reserve that is broken into, and until when (None: for as long as the plan looks)."""

    proof: Proof
    ends: datetime | None


def prove_gap(context: PlanningContext, plan: GroupPlan, use: Use, tray: str) -> Gap:
    """What is left of a tray when a use takes a set that should be kept ready."""
    sets = sorted((one for one in plan.sets.values() if one.tray == tray), key=lambda one: one.id)
    keep = context.site.trays[tray].keep_ready
    ready = [one.id for one in sets if _is_ready(context, plan, one, use, use.needed)]
    bound = tuple(_bound(context, plan, one, use) for one in sets if one.id not in ready)
    moments = sorted({one.until for one in bound if one.until is not None} | _later_backs(context, plan, use, tray))
    later = (at for at in moments if at > use.needed)
    ends = next((at for at in later if sum(_is_ready(context, plan, one, use, at) for one in sets) >= keep), None)
    cases = tuple(dict.fromkeys(one.case for one in bound if one.case))
    return Gap(proof=Proof(instant=use.needed, overlapping=cases, sets=bound, ready=tuple(ready)), ends=ends)


def _later_backs(context: PlanningContext, plan: GroupPlan, use: Use, tray: str) -> set[datetime]:
    """When sets that are taken only later are back."""
    backs = {_back(context, plan, one) for one in plan.services if one.one.tray == tray and one.use.needed > use.needed}
    return {back for back in backs if back is not None}


def _back(context: PlanningContext, plan: GroupPlan, service: Service) -> datetime | None:
    home = plan.states[service.one.id].home
    return context.turnaround.free_after(service.use, service.one.tray, Pace.USUAL, home, home)


def _holder(plan: GroupPlan, one: InstrumentSet, moment: datetime) -> Service | None:
    """The last use that has taken the set by a moment."""
    return next((each for each in reversed(plan.on_set(one.id)) if each.use.needed <= moment), None)


def stands(context: PlanningContext, plan: GroupPlan, one: InstrumentSet, use: Use) -> bool:
    """Whether a set would stand ready somewhere by the need of a use if no case had had it before."""
    ready = _first_ready(context, plan, one, use)
    return ready is not None and ready <= use.needed


def _first_ready(context: PlanningContext, plan: GroupPlan, one: InstrumentSet, use: Use) -> datetime | None:
    """When a set that no case has had is ready somewhere for a use, by its route if its record ends before that."""
    state = replace(plan.states[one.id], until=None)
    return ready_for(context.turnaround, state, replace(use, building=""))


def _is_ready(context: PlanningContext, plan: GroupPlan, one: InstrumentSet, use: Use, moment: datetime) -> bool:
    """Whether a set stands ready somewhere at a moment, were it needed then as the use needs it."""
    holder = _holder(plan, one, moment)
    if holder is not None:
        back = _back(context, plan, holder)
        return back is not None and back <= moment
    ready = _first_ready(context, plan, one, shifted(use, minutes_between(use.needed, moment)))
    return ready is not None and ready <= moment


def _bound(context: PlanningContext, plan: GroupPlan, one: InstrumentSet, use: Use) -> BoundSet:
    holder, state = _holder(plan, one, use.needed), plan.states[one.id]
    if holder is None:
        if state.why_never:
            never = Bound(binding=Binding.NEVER, text=state.why_never)
            return BoundSet(set_id=one.id, case="", until=None, bound=never)
        text = state.from_state + when_record_ends(context.turnaround, state, use)
        comes = Bound(binding=Binding.STATE, text=text)
        return BoundSet(set_id=one.id, case="", until=_first_ready(context, plan, one, use), bound=comes)
    back = _back(context, plan, holder)
    held = Bound(binding=Binding.CASE, ends=holder.use.ends)
    return BoundSet(set_id=one.id, case=holder.use.case, until=back, bound=held)
