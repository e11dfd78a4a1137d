"""Turn uses and sets into an allocation question: whole minutes since the epoch, kinds, places."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from picklist.clock import minutes_between, shift
from picklist.model.sets import InstrumentSet, SetState
from picklist.model.uses import Pace, Use
from picklist.sets.allocation.terms import AllocationQuestion, Copy, Job, Option, Ready
from picklist.sets.calendar import minute_from, minute_until
from picklist.sets.fitting import fits
from picklist.sets.planning_context import ExtraSet, PlanningContext, Scenario, choices
from picklist.sets.states import Availability, is_in_date, ready_for, stands_there
from picklist.sets.sterile_records import first_beyond
from picklist.sets.turnaround import Turnaround
from picklist.settings import TieBreak
from picklist.wording.set_states import BROUGHT


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupSets:
    """The sets of a tray group, what their state means, and which kind each belongs to."""

    sets: dict[str, InstrumentSet]
    states: dict[str, Availability]
    kind_of: dict[str, str]
    tray_of: dict[str, str]  # by kind
    one_of: dict[str, str]  # a set by kind
    renewed: dict[str, str]  # of a kind with a record that ends: the kind that its sets are with a new one
    beyond: dict[str, datetime]  # of such a kind: the first start that the record does not cover

    def keeps_record(self, kind: str, use: Use) -> bool:
        """Whether a set of a kind may come back from a use with the record that it had, which ends."""
        return kind in self.beyond and use.on_hold and use.starts < self.beyond[kind]


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedGroup:
    """An allocation question, and the sets and uses that its ids stand for."""

    question: AllocationQuestion
    sets: GroupSets
    uses: dict[str, Use]


def ask(context: PlanningContext, scenario: Scenario, group: tuple[str, ...]) -> AskedGroup:
    """Make the allocation question of one tray group from its uses and sets."""
    uses = {use.key: use for use in scenario.uses_in(group)}
    sets = group_sets(context, scenario, group, tuple(uses.values()))
    wanted = tuple(sorted(uses.values(), key=lambda use: (use.needed, use.key)))
    places = tuple(sorted({use.building for use in uses.values()}))
    site = context.site
    question = AllocationQuestion(
        jobs=tuple(known_job(context, scenario, use, sets, places) for use in wanted),
        copies=_copies(context, sets, wanted),
        pools=sets.tray_of,
        floors={tray: site.trays[tray].keep_ready for tray in group if site.trays[tray].keep_ready},
        margin=site.settings.margin,
        earlier_keeps=site.settings.tie_break is TieBreak.EARLIER_START,
        renewed=sets.renewed,
    )
    return AskedGroup(question=question, sets=sets, uses=uses)


def group_sets(
    context: PlanningContext, scenario: Scenario, group: tuple[str, ...], uses: tuple[Use, ...]
) -> GroupSets:
    """The sets of a tray group that can ever be used, extra ones among them."""
    sets: dict[str, InstrumentSet] = {}
    states: dict[str, Availability] = {}
    for tray in group:
        for one in context.sets_of.get(tray, ()):
            sets[one.id] = one
            states[one.id] = context.state_of(one.id, scenario)
    for extra in scenario.extras:
        if extra.tray in group:
            sets[extra.id] = as_set(extra)
            states[extra.id] = _extra_state(extra)
    usable = {set_id: state for set_id, state in states.items() if not state.why_never}
    lasting = {set_id: _kind(sets[set_id], state) for set_id, state in usable.items()}
    put_back = context.site.settings.put_back
    held = tuple(use for use in uses if use.on_hold)
    beyond = {set_id: first_beyond(state, uses, held, put_back) for set_id, state in usable.items()}
    kind_of = {set_id: f"{kind}|{beyond[set_id] or ''}" for set_id, kind in lasting.items()}
    renewed = {kind_of[set_id]: f"{kind}|" for set_id, kind in lasting.items() if beyond[set_id]}
    one_of = {kind: set_id for set_id, kind in reversed(kind_of.items())}
    one_of |= {kind: one_of[old] for old, kind in renewed.items() if kind not in one_of}
    return GroupSets(
        sets=sets,
        states=states,
        kind_of=kind_of,
        tray_of={kind: sets[set_id].tray for kind, set_id in one_of.items()},
        one_of=one_of,
        renewed=renewed,
        beyond={kind_of[set_id]: first for set_id, first in beyond.items() if first},
    )


def as_set(extra: ExtraSet) -> InstrumentSet:
    """An extra set as a set on the shelf."""
    return InstrumentSet(id=extra.id, tray=extra.tray, side=extra.side, size=extra.size, state=SetState.ON_SHELF)


def _extra_state(extra: ExtraSet) -> Availability:
    return Availability(
        set_id=extra.id,
        tray=extra.tray,
        from_state=BROUGHT,
        released=extra.ready,
        ready=extra.ready,
        least_ready=extra.ready,
        home=extra.building,
        until=extra.until,
    )


def _kind(one: InstrumentSet, state: Availability) -> str:
    """Sets that may take each other's place."""
    until = state.until.isoformat() if state.until else ""
    return "|".join((one.tray, one.side or "", one.size, state.home, until))


def known_job(context: PlanningContext, scenario: Scenario, use: Use, sets: GroupSets, places: tuple[str, ...]) -> Job:
    """The job of a use, made once for all scenarios in which it is the same."""
    only = dict(scenario.only).get(use.key)
    hastes = tuple(haste for haste in scenario.hastes if haste.source == use.key)
    key = (use, tuple(sets.one_of), places, only, hastes)
    if key not in context.jobs:
        context.jobs[key] = _job(context, scenario, use, sets, places)
    return context.jobs[key]


def _job(context: PlanningContext, scenario: Scenario, use: Use, sets: GroupSets, places: tuple[str, ...]) -> Job:
    options = _options(context, scenario, use, sets)
    kept = {kind for kind in sets.renewed if sets.keeps_record(kind, use)}
    cart = context.held.get(use.key, "")
    return Job(
        key=use.key,
        need=minute_until(use.needed),
        start=minute_until(use.starts),
        options=options,
        back={option.kind: _back(context, scenario, use, sets, (option.kind, places)) for option in options},
        place=use.building,
        cart=cart if sets.kind_of.get(cart) in {option.kind for option in options} else "",
        weight=use.weight,
        group=f"{use.case}/{use.tray}",
        case=use.case,
        on_hold=use.on_hold,
        renews=frozenset(sets.renewed.keys() - kept),
        homes=_homes(context, scenario, use, sets, options),
    )


def _homes(
    context: PlanningContext, scenario: Scenario, use: Use, sets: GroupSets, options: tuple[Option, ...]
) -> dict[str, int]:
    """When a set of each kind is ready again where it belongs, by usual minutes."""
    found = {}
    for option in options:
        tray = sets.tray_of[option.kind]
        home = sets.states[sets.one_of[option.kind]].home
        turnaround = context.turnaround_of(use.key, tray, scenario.hastes)
        back = turnaround.free_after(use, tray, Pace.USUAL, home, home)
        if back is not None:
            found[option.kind] = minute_from(back)
    return found


def _options(context: PlanningContext, scenario: Scenario, use: Use, sets: GroupSets) -> tuple[Option, ...]:
    forced = dict(scenario.only).get(use.key)
    preference = {tray: rank for tray, rank in choices(context.site, use) if forced in (None, tray)}
    found = []
    for kind, set_id in sets.one_of.items():
        tray, state = sets.tray_of[kind], sets.states[set_id]
        spare = context.turnaround.may_be_late(use, tray, state.home, state.until) if state.until else None
        if tray not in preference or (spare is not None and spare < 0):
            continue
        if fits(context.site.trays.get(tray), sets.sets[set_id], use):
            found.append(Option(kind=kind, preference=preference[tray], most_late=spare))
    return tuple(sorted(found, key=lambda option: (option.preference, option.kind)))


def _back(
    context: PlanningContext, scenario: Scenario, use: Use, sets: GroupSets, wanted: tuple[str, tuple[str, ...]]
) -> dict[str, Ready]:
    """When a set of a kind is ready again after a use, in each place."""
    kind, places = wanted
    tray = sets.tray_of[kind]
    home = sets.states[sets.one_of[kind]].home
    turnaround = context.turnaround_of(use.key, tray, scenario.hastes)
    found = {}
    for place in places:
        usual = turnaround.free_after(use, tray, Pace.USUAL, home, place)
        least = turnaround.free_after(use, tray, Pace.LEAST, home, place)
        unopened = turnaround.put_back(use, home, place) if use.on_hold else None
        ready = _ready(usual, least)
        if ready is not None and unopened is not None:
            ready = replace(ready, unopened=minute_from(unopened), unopened_last=_last_need(sets, kind, use))
        if ready is not None:
            found[place] = ready
    return found


def _last_need(sets: GroupSets, kind: str, use: Use) -> int | None:
    """The last need of a case that starts before the first one that a set's record does not cover, if that tells."""
    if not sets.keeps_record(kind, use):
        return None
    return minute_until(shift(sets.beyond[kind], -1)) - minutes_between(use.needed, use.starts)


def _copies(context: PlanningContext, sets: GroupSets, uses: tuple[Use, ...]) -> tuple[Copy, ...]:
    """The copies of a tray group, each made once for all scenarios in which it is the same."""
    samples = {use.building: use for use in sorted(uses, key=lambda use: (use.starts, use.key), reverse=True)}
    found = []
    for set_id, kind in sets.kind_of.items():
        state = sets.states[set_id]
        ends = state.on_shelf and state.recorded_until is not None
        outdated = tuple(use for use in uses if not is_in_date(state, use)) if ends else ()
        key = (state, kind, tuple(samples.values()), outdated)
        if key not in context.copies:
            context.copies[key] = _copy(context.turnaround, (state, kind), samples, outdated)
        found.append(context.copies[key])
    return tuple(found)


def _copy(
    turnaround: Turnaround, one: tuple[Availability, str], samples: dict[str, Use], outdated: tuple[Use, ...]
) -> Copy:
    """When a set can first be at each place; uses after its record ends are exceptions, its route comes first."""
    state, kind = one
    first: dict[str, Ready] = {}
    for place, use in samples.items():
        ready = _first(turnaround, replace(state, until=None, recorded_until=None), use)
        if ready is not None:
            first[place] = ready
    exceptions = {use.key: _first(turnaround, replace(state, until=None), use) for use in outdated}
    return Copy(id=state.set_id, kind=kind, first=first, exceptions=exceptions, home=_home(state, samples))


def _home(state: Availability, samples: dict[str, Use]) -> int | None:
    """When a set is ready where it belongs; one that is on the shelf there is so for every cart, however early."""
    if state.ready is None:
        return None
    stands = state.on_shelf and not state.off_cart
    early = [minute_until(use.needed) for use in samples.values()] if stands else []
    return min([minute_from(state.ready), *early])


def _first(turnaround: Turnaround, state: Availability, use: Use) -> Ready | None:
    usual = ready_for(turnaround, state, use, Pace.USUAL)
    least = ready_for(turnaround, state, use, Pace.LEAST)
    ready = _ready(usual, least)
    if ready is None or not stands_there(state, use):
        return ready
    # What is in the building already is there for every cart, even one due before now.
    early = minute_until(use.needed) if state.on_shelf else ready.usual
    return replace(ready, usual=min(ready.usual, early), least=min(ready.least, early), waits=False)


def _ready(usual: datetime | None, least: datetime | None) -> Ready | None:
    if usual is None or least is None:
        return None
    return Ready(usual=minute_from(usual), least=minute_from(least))
