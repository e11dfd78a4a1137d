"""Why the sets on hand cannot serve a use: the instant, who has each set, and until when."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import datetime

from picklist.clock import shift
from picklist.model.conflicts import BoundSet, Proof
from picklist.model.sets import InstrumentSet
from picklist.model.uses import Pace, Reuse, Use
from picklist.sets.allocate_group import GroupPlan, Service
from picklist.sets.fitting import fits
from picklist.sets.planning_context import PlanningContext, choices
from picklist.sets.reuse import reuse_after, reuse_from_state
from picklist.sets.set_words import count, hurried_time, tray_name, usual_time, when
from picklist.wording import listed


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
        gone = state.until is not None and use.received > state.until
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
        statement=_statement(context, plan, use, instant, bound),
    )


def _reuse(
    context: PlanningContext, plan: GroupPlan, one: InstrumentSet, after: Service | None, use: Use
) -> Reuse | None:
    if after is not None:
        return reuse_after(context.turnaround, one, after.use, use, after.record_ends)
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
    if state.why_never:
        return BoundSet(set_id=one.id, case="", until=None, why=state.why_never)
    if not fits(context.site.trays.get(one.tray), one, use):
        return BoundSet(set_id=one.id, case="", until=None, why=f"{one.side or one.size or 'no side'}, does not fit")
    if state.until is not None and use.received > state.until:
        until = when(context.site, state.until, use.needed)
        return BoundSet(set_id=one.id, case="", until=None, why=f"on loan, goes back by {until}, before this case ends")
    if not _comes_here(context, plan, one, use):
        why = f"its place is in {state.home}, and no transfer from there to {use.building} is listed"
        return BoundSet(set_id=one.id, case="", until=None, why=why)
    hold = _holder(context, plan, one, use, moment)
    if hold is not None:
        case = hold.service.use.case if hold.service else state.giver
        ready = hold.reuse.ready if hold.reuse else None
        return BoundSet(set_id=one.id, case=case, until=ready, why=_why(context, plan, one, hold, use))
    return _promised(context, plan, one, use, moment)


def _why(context: PlanningContext, plan: GroupPlan, one: InstrumentSet, hold: _Hold, use: Use) -> str:
    site, reuse = context.site, hold.reuse
    if hold.service is None:
        words = reuse.from_state if reuse else plan.states[one.id].from_state
    elif hold.service.use.case == use.case:
        return _own_words(context, plan, hold.service.use, use)
    else:
        giver = hold.service.use
        held = "on hold in" if giver.on_hold else "with"
        words = f"{held} case {giver.case} until {when(site, giver.ends, use.needed)}"
    if reuse is None:
        return f"{words}, and never ready again for this case"
    ready = f"ready {'again ' if hold.service else ''}{usual_time(site, reuse, use)}"
    if reuse.least_ready < reuse.ready:
        ready += f", {hurried_time(site, reuse, use)}"
    if reuse.if_unopened_ready is not None:
        ready += f", if it stays unopened {when(site, reuse.if_unopened_ready, use.needed)}"
    until = plan.states[one.id].until
    if until is not None and shift(use.received, -reuse.slack) > until:
        goes = when(site, until, use.needed)
        return f"{words}, {ready}; on loan, goes back by {goes}, before this case would then end"
    other = "; it goes to what else this case lacks" if one.id in goes_before(plan, use) else ""
    return f"{words}, {ready}{other}{_but_kept(context, plan, one, hold, use)}"


def _but_kept(context: PlanningContext, plan: GroupPlan, one: InstrumentSet, hold: _Hold, use: Use) -> str:
    """Why a set that could be there in a rush, or unopened, goes to another case."""
    reuse = hold.reuse
    if reuse is None or not (reuse.least_slack >= 0 or reuse.hangs_on_opening):
        return ""
    begins = hold.service.use.needed if hold.service else None
    later = [each.use for each in plan.on_set(one.id) if begins is None or each.use.needed > begins]
    return f"; but {_kept_for(context, one, use, later[0])[0]}" if later else ""


def _own_words(context: PlanningContext, plan: GroupPlan, given: Use, use: Use) -> str:
    """A set that the case itself has already."""
    if given.tray != use.tray:
        return f"goes to case {use.case} itself, for its {tray_name(context.site, given.tray)}"
    wanted = len(plan.of_case(use.case, use.tray)) + len(plan.lacking(use.case, use.tray))
    return f"goes to case {use.case} itself, which wants {count(wanted, 'set')} at once"


def _promised(context: PlanningContext, plan: GroupPlan, one: InstrumentSet, use: Use, moment: datetime) -> BoundSet:
    """A set that is free at the moment: who needs it before this case could give it back."""
    later = [service.use for service in plan.on_set(one.id) if service.use.needed > moment]
    if not later:
        return BoundSet(set_id=one.id, case="", until=None, why="cannot be brought here in time")
    why, back = _kept_for(context, one, use, later[0])
    return BoundSet(set_id=one.id, case=later[0].case, until=back, why=why)


def _kept_for(context: PlanningContext, one: InstrumentSet, use: Use, later: Use) -> tuple[str, datetime | None]:
    """That a set is kept for a later use, to which this one could not give it back in time; and when it would."""
    site = context.site
    kept = f"kept for case {later.case}, which needs it by {when(site, later.needed, use.needed)}"
    reuse = reuse_after(context.turnaround, one, use, later)
    if reuse is None:
        return f"{kept}; never back from case {use.case}", None
    back = f"would be back from case {use.case} only at {usual_time(site, reuse, use)}"
    if reuse.least_ready < reuse.ready:
        back += f", {hurried_time(site, reuse, use)}"
    return f"{kept}; {back}", reuse.ready


def _statement(
    context: PlanningContext, plan: GroupPlan, use: Use, instant: datetime, bound: tuple[BoundSet, ...]
) -> str:
    site = context.site
    name = tray_name(site, use.tray)
    sets = Counter(one.case for one in bound if one.case)
    sets[use.case] += len(plan.lacking(use.case, use.tray))
    cases = listed([case if number == 1 else f"{case} ({count(number, 'set')})" for case, number in sets.items()])
    wanted = f"At {when(site, instant, use.needed)} {name} is taken or wanted by {count(len(sets), 'case')}: {cases}."
    usable = [one for one in bound if one.until is not None or one.case]
    have = f"{count(len(usable), 'set').capitalize()} could serve this case at all."
    return " ".join([wanted, have, *(f"{one.set_id}: {one.why}." for one in bound)])
