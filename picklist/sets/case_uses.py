"""Turn needs into uses: which case binds a set of which tray, from when until when."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from picklist.clock import minutes_between, shift
from picklist.model.needs import CaseNeeds
from picklist.model.schedule import SIDED, Case
from picklist.model.sets import InstrumentSet
from picklist.model.site import Site
from picklist.model.uses import Use
from picklist.sets.copies import WantedCopy, copies_in_hand, sets_in_use, wanted_copies
from picklist.sets.walk import begins_in_room, steps_for
from picklist.settings import SetFreedAt, Settings, StartMeans


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseTimes:
    """The instants of a case that bind its sets; ``starts`` is wheels-in, ``ends`` frees the sets."""

    needed: datetime
    starts: datetime
    ends: datetime
    leaves_room: datetime
    received: datetime


def make_uses(site: Site, needs: Iterable[CaseNeeds], cases: Iterable[Case]) -> tuple[Use, ...]:
    """One use for each copy of a tray that a case needs, by need, case and tray.

    Stopped cases have no needs, and make no uses until they are fixed. A case in which sets are
    recorded as in use makes uses only for what it lacks, so that they are not promised twice;
    done and cancelled cases make none.
    """
    by_case = {one.case: one for one in needs if not one.stopped}
    in_room = frozenset(tray.id for tray in site.trays.values() if begins_in_room(steps_for(site, tray)))
    in_use, uses = sets_in_use(site), list[Use]()
    for case in cases:
        wanted = by_case.get(case.number)
        if wanted is not None and case.is_live:
            uses.extend(_uses_of(site, case, (wanted, in_use.get(case.number, ())), in_room))
    return tuple(sorted(uses, key=lambda use: (use.needed, use.case, use.tray, use.copy)))


def stopped_cases(cases: Iterable[Case], needs: Iterable[CaseNeeds]) -> tuple[str, ...]:
    """The cases whose list is stopped, so that nobody knows what they need, in the order of the cases."""
    known = {one.case for one in needs if not one.stopped}
    return tuple(case.number for case in cases if case.number not in known)


def started_cases(site: Site, uses: Iterable[Use], now: datetime) -> frozenset[str]:
    """The cases that no longer wait for anything: those running, and those past their planned start."""
    running = {case.number for case in site.cases if case.is_running}
    return frozenset(running.union(use.case for use in uses if use.starts <= now))


def case_times(settings: Settings, case: Case) -> CaseTimes:
    """When a case needs its cart and frees its sets, by the site's settings."""
    before = settings.incision_after if settings.start_means is StartMeans.INCISION else 0
    starts = shift(case.start, -before)
    early = settings.closure_before if settings.set_freed_at is SetFreedAt.CLOSURE else 0
    ends = max(starts, shift(starts, case.minutes - early))
    leaves = shift(ends, settings.room_release)
    return CaseTimes(
        needed=shift(starts, -settings.setup_lead),
        starts=starts,
        ends=ends,
        leaves_room=leaves,
        received=shift(leaves, settings.haul),
    )


def planned_minutes(settings: Settings, use: Use) -> int:
    """The minutes of a use's case from wheels-in to wheels-out."""
    early = settings.closure_before if settings.set_freed_at is SetFreedAt.CLOSURE else 0
    return minutes_between(use.starts, use.ends) + early


def building_of(site: Site, room: str) -> str:
    """The building of a room, empty when it is not listed."""
    known = site.rooms.get(room)
    return known.building if known else ""


def _uses_of(
    site: Site, case: Case, wanted_and_there: tuple[CaseNeeds, Sequence[InstrumentSet]], in_room: frozenset[str]
) -> Iterator[Use]:
    wanted, there = wanted_and_there
    times = case_times(site.settings, case)
    at_once = replace(times, received=times.leaves_room)
    wanted_here = [one for one in wanted_copies(wanted.needs) if one.need.thing in site.trays]
    in_hand = copies_in_hand(site, case, wanted_here, there)
    for one in wanted_here:
        if one.key not in in_hand:
            yield _one_use(site, case, one, at_once if one.need.thing in in_room else times)


def _one_use(site: Site, case: Case, one: WantedCopy, times: CaseTimes) -> Use:
    need, tray = one.need, site.trays[one.need.thing]
    return Use(
        case=case.number,
        tray=need.thing,
        copy=one.copy,
        needed=times.needed,
        starts=times.starts,
        ends=times.ends,
        leaves_room=times.leaves_room,
        received=times.received,
        weight=case.priority,
        on_hold=one.on_hold,
        side=need.side if tray.sided and need.side in SIDED else None,
        size=need.size,
        building=building_of(site, case.room),
        no_latex=case.latex_alert,
    )
