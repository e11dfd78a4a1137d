"""Why the sets on hand cannot serve a use: the instant, who has each set, and until when."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import datetime

from picklist.model.conflicts import BoundSet, Proof
from picklist.model.sets import InstrumentSet
from picklist.model.uses import Pace, Reuse, Use
from picklist.sets.fitting import fits
from picklist.sets.reuse import reuse_after, reuse_from_state
from picklist.sets.serve_part import PartPlan, Service
from picklist.sets.set_words import count, join, tray_name, when
from picklist.sets.situation import Situation, choices


@dataclass(frozen=True, slots=True, kw_only=True)
class Soonest:
    """The set that comes free for a use after its need, and the reuse that is too late."""

    one: InstrumentSet
    after: Use | None
    reuse: Reuse


@dataclass(frozen=True, slots=True, kw_only=True)
class _Hold:
    """Who has a set from when until when: a service, or its state now. ``least`` by least minutes."""

    service: Service | None
    begins: datetime
    ready: datetime | None
    least: datetime | None


def soonest_set(situation: Situation, plan: PartPlan, use: Use) -> Soonest | None:
    """The set that comes free for a use without one, by usual minutes; None when none ever does."""
    coming = next(coming for one, coming in plan.unserved if one.key == use.key)
    if coming is None:
        return None
    one = plan.sets[coming.copy]
    after = next((service.use for service in plan.services if service.use.key == coming.after), None)
    reuse = _reuse(situation, plan, one, after, use)
    return Soonest(one=one, after=after, reuse=reuse) if reuse else None


def goes_before(plan: PartPlan, use: Use) -> tuple[str, ...]:
    """Sets that come free sooner, but for something else that the case lacks."""
    of_case = [(one.key, coming) for one, coming in plan.unserved if one.case == use.case]
    mine = dict(of_case)[use.key]
    others = [(one.minutes, one.copy) for key, one in of_case if one is not None and key != use.key]
    return tuple(copy for free, copy in sorted(others) if mine is None or (free, copy) < (mine.minutes, mine.copy))


def suitable_sets(situation: Situation, plan: PartPlan, use: Use) -> tuple[InstrumentSet, ...]:
    """The sets that may serve a use at some time, the tray asked for first."""
    preference = dict(choices(situation.site, use))
    found = []
    for one in plan.sets.values():
        state = plan.states[one.id]
        gone = state.until is not None and use.received > state.until
        usable = one.tray in preference and not gone and not state.why_never
        if usable and fits(situation.site.trays.get(one.tray), one, use):
            found.append(one)
    return tuple(sorted(found, key=lambda one: (preference[one.tray], one.id)))


def prove(situation: Situation, plan: PartPlan, use: Use) -> Proof:
    """The proof that a use goes without a set in the plan."""
    instant = _tightest(situation, plan, use)
    bound = tuple(_bound(situation, plan, one, use, instant) for one in _all_sets(situation, plan, use))
    at_once = [one.case for one in bound if one.case]
    overlapping = tuple(dict.fromkeys((*at_once, use.case)))
    return Proof(
        instant=instant,
        overlapping=overlapping,
        sets=bound,
        statement=_statement(situation, plan, use, instant, bound),
    )


def _reuse(situation: Situation, plan: PartPlan, one: InstrumentSet, after: Use | None, use: Use) -> Reuse | None:
    if after is not None:
        return reuse_after(situation.turnaround, one, after, use)
    return reuse_from_state(situation.turnaround, one, plan.states[one.id], use)


def _all_sets(situation: Situation, plan: PartPlan, use: Use) -> list[InstrumentSet]:
    """Suitable sets, then those of the tray asked for that cannot serve."""
    suitable = suitable_sets(situation, plan, use)
    known = {one.id for one in suitable}
    rest = [one for one in plan.sets.values() if one.tray == use.tray and one.id not in known]
    return [*suitable, *sorted(rest, key=lambda one: one.id)]


def _tightest(situation: Situation, plan: PartPlan, use: Use) -> datetime:
    """The first moment from the need on at which no suitable set is free; the need when there is none."""
    sets = suitable_sets(situation, plan, use)
    back = _back(situation, plan, sets, use)
    moments = sorted(
        {use.needed, *(service.use.needed for service in plan.services if service.use.needed > use.needed)}
    )
    for moment in moments:
        if back is not None and moment >= back:
            break
        if all(_holder(situation, plan, one, use, moment) for one in sets):
            return moment
    return use.needed


def _back(situation: Situation, plan: PartPlan, sets: tuple[InstrumentSet, ...], use: Use) -> datetime | None:
    """When a set given to the use would be ready again, the earliest of the sets."""
    turnaround = situation.turnaround
    ends = [turnaround.free_after(use, one.tray, Pace.USUAL, plan.states[one.id].home, use.building) for one in sets]
    return min((end for end in ends if end is not None), default=None)


def _holder(situation: Situation, plan: PartPlan, one: InstrumentSet, use: Use, moment: datetime) -> _Hold | None:
    """Who has the set at a moment, if anyone: a case before it, or its state until it is ready first.

    What the case of the use is given itself is back only after that case, so that it is no help at any moment.
    """
    services = plan.on_set(one.id)
    own = next((service for service in services if service.use.case == use.case), None)
    taken = [service for service in services if service.use.needed <= moment]
    last = own or (taken[-1] if taken else None)
    reuse = _reuse(situation, plan, one, last.use if last else None, use)
    if reuse is None and last is not None:
        return _Hold(service=last, begins=last.use.needed, ready=None, least=None)
    if reuse is None or (reuse.ready <= moment and own is None):
        return None
    begins = last.use.needed if last else situation.now
    return _Hold(service=last, begins=begins, ready=reuse.ready, least=reuse.least_ready)


def _bound(situation: Situation, plan: PartPlan, one: InstrumentSet, use: Use, moment: datetime) -> BoundSet:
    state = plan.states[one.id]
    if state.why_never:
        return BoundSet(set_id=one.id, case="", until=None, why=state.why_never)
    if not fits(situation.site.trays.get(one.tray), one, use):
        return BoundSet(set_id=one.id, case="", until=None, why=f"{one.side or one.size or 'no side'}, does not fit")
    if state.until is not None and use.received > state.until:
        until = when(situation.site, state.until, use.needed)
        return BoundSet(set_id=one.id, case="", until=None, why=f"on loan, goes back by {until}, before this case ends")
    hold = _holder(situation, plan, one, use, moment)
    if hold is not None:
        case = hold.service.use.case if hold.service else state.giver
        return BoundSet(set_id=one.id, case=case, until=hold.ready, why=_why(situation, plan, one, hold, use))
    return _promised(situation, plan, one, use, moment)


def _why(situation: Situation, plan: PartPlan, one: InstrumentSet, hold: _Hold, use: Use) -> str:
    site = situation.site
    if hold.service is None:
        words = plan.states[one.id].from_state
    elif hold.service.use.case == use.case:
        return _own_words(situation, plan, hold.service.use, use)
    else:
        giver = hold.service.use
        words = f"with case {giver.case} until {when(site, giver.ends, use.needed)}"
    if hold.ready is None:
        return f"{words}, and never ready again for this case"
    ready = f"ready again {when(site, hold.ready, use.needed)}"
    if hold.least is not None and hold.least < hold.ready:
        ready += f", by least minutes {when(site, hold.least, use.needed)}"
    other = " and then for what else this case lacks" if one.id in goes_before(plan, use) else ""
    return f"{words}, {ready}{other}"


def _own_words(situation: Situation, plan: PartPlan, given: Use, use: Use) -> str:
    """A set that the case itself has already."""
    if given.tray != use.tray:
        return f"goes to case {use.case} itself, for its {tray_name(situation.site, given.tray)}"
    wanted = len(plan.of_case(use.case, use.tray)) + len(plan.lacking(use.case, use.tray))
    return f"goes to case {use.case} itself, which wants {count(wanted, 'set')} at once"


def _promised(situation: Situation, plan: PartPlan, one: InstrumentSet, use: Use, moment: datetime) -> BoundSet:
    """A set that is free at the moment: who needs it before this case could give it back."""
    site = situation.site
    later = [service.use for service in plan.on_set(one.id) if service.use.needed > moment]
    if not later:
        return BoundSet(set_id=one.id, case="", until=None, why="cannot be brought here in time")
    reuse = reuse_after(situation.turnaround, one, use, later[0])
    back = (
        f"would be back from case {use.case} only at {when(site, reuse.ready, use.needed)}" if reuse else "never back"
    )
    why = f"kept for case {later[0].case}, which needs it by {when(site, later[0].needed, use.needed)}; {back}"
    return BoundSet(set_id=one.id, case=later[0].case, until=reuse.ready if reuse else None, why=why)


def _statement(situation: Situation, plan: PartPlan, use: Use, instant: datetime, bound: tuple[BoundSet, ...]) -> str:
    site = situation.site
    name = tray_name(site, use.tray)
    sets = Counter(one.case for one in bound if one.case)
    sets[use.case] += len(plan.lacking(use.case, use.tray))
    cases = join([case if number == 1 else f"{case} ({count(number, 'set')})" for case, number in sets.items()])
    wanted = f"At {when(site, instant, use.needed)} {name} is taken or wanted by {count(len(sets), 'case')}: {cases}."
    usable = [one for one in bound if one.until is not None or one.case]
    have = f"{count(len(usable), 'set').capitalize()} could serve this case at all."
    return " ".join([wanted, have, *(f"{one.set_id}: {one.why}." for one in bound)])
