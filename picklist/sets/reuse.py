"""Work out a reuse: when a set is ready for its next use, how much is to spare, by when each act must be done."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from picklist.clock import minutes_between
from picklist.model.sets import InstrumentSet
from picklist.model.uses import Pace, Reuse, Use
from picklist.sets.case_uses import planned_minutes
from picklist.sets.deadlines import make_deadlines
from picklist.sets.states import Availability, home_of, is_in_date, stands_there
from picklist.sets.timed_route import TimedRoute
from picklist.sets.turnaround import Turnaround
from picklist.wording.set_states import record_ends


@dataclass(frozen=True, slots=True, kw_only=True)
class _ReuseWay:
    """A set's route at both paces from its release, with the acts before it and the steps under way."""

    usual: TimedRoute
    least: TimedRoute
    released: datetime
    giver: str
    from_state: str
    before: tuple[tuple[str, int], ...]
    under_way: tuple[str, ...] = ()


def reuse_after(
    turnaround: Turnaround,
    one: InstrumentSet,
    giver: Use,
    waiter: Use,
    record_ends: datetime | None = None,
    *,
    home: str | None = None,
) -> Reuse | None:
    """The reuse of a set after one use and for another; None when it is never ready again.

    The set's own tray says the route, be it the tray asked for or one that stands in. ``record_ends``:
    when the record ends that the set has if the giver leaves it unopened; after that it runs its route.
    ``home``: the building to which a set belongs that has no place here.
    """
    home = home_of(turnaround, one) if home is None else home
    usual = turnaround.timed_route(one.tray, Pace.USUAL, home, waiter.building, giver.building)
    least = turnaround.timed_route(one.tray, Pace.LEAST, home, waiter.building, giver.building)
    if usual is None or least is None:
        return None
    way = _ReuseWay(
        usual=usual,
        least=least,
        released=turnaround.released(giver, one.tray),
        giver=giver.case,
        from_state="",
        before=turnaround.leaving(one.tray),
    )
    reuse = _make_reuse(one, way, waiter)
    if reuse is None:
        return None
    reuse = _with_overrun(reuse, usual, planned_minutes(turnaround.site.settings, giver))
    if not giver.on_hold or (record_ends is not None and waiter.starts > record_ends):
        return reuse
    reuse = _if_unopened(reuse, turnaround.put_back(giver, home, waiter.building))
    return replace(reuse, if_unopened_by=turnaround.leave_unopened_by(giver, waiter.needed, home, waiter.building))


def reuse_from_state(turnaround: Turnaround, one: InstrumentSet, state: Availability, waiter: Use) -> Reuse | None:
    """What a set's state now asks for before a use; None when it only has to be fetched, or is never ready."""
    if state.why_never or (state.on_shelf and stands_there(state, waiter)):
        return None
    steps = () if is_in_date(state, waiter) else state.steps
    usual = turnaround.timed_route_of(steps, Pace.USUAL, state.home, waiter.building)
    least = turnaround.timed_route_of(steps, Pace.LEAST, state.home, waiter.building)
    if usual is None or least is None:
        return None
    way = _ReuseWay(
        usual=usual,
        least=least,
        released=state.released,
        giver=state.giver,
        from_state=state.from_state + when_record_ends(turnaround, state, waiter),
        before=state.before,
        under_way=state.under_way,
    )
    reuse = _make_reuse(one, way, waiter)
    case = turnaround.cases.get(state.giver)
    return _with_overrun(reuse, usual, case.minutes) if reuse and case else reuse


def _make_reuse(one: InstrumentSet, way: _ReuseWay, waiter: Use) -> Reuse | None:
    walk, least = way.usual.walk_after(way.released), way.least.ready(way.released)
    deadlines = make_deadlines(way.usual, way.least, waiter.needed, way.before, way.under_way)
    if walk is None or least is None or deadlines is None:
        return None
    return Reuse(
        set_id=one.id,
        tray=one.tray,
        giver=way.giver,
        waiter=waiter.case,
        waiter_use=waiter.key,
        from_state=way.from_state,
        released=way.released,
        ready=walk.ready,
        least_ready=least,
        needed=waiter.needed,
        slack=minutes_between(walk.ready, waiter.needed),
        least_slack=minutes_between(least, waiter.needed),
        deadlines=deadlines,
        walk=walk,
    )


def _with_overrun(reuse: Reuse, usual: TimedRoute, planned: int) -> Reuse:
    """With the minutes that the giver may overrun (negative: must end sooner), by usual minutes."""
    latest = usual.release(reuse.needed)
    if latest is None:
        return reuse
    spare = minutes_between(reuse.released, latest)
    return replace(reuse, break_even=spare, break_even_percent=100 * spare // planned if planned > 0 else None)


def _if_unopened(reuse: Reuse, back: datetime | None) -> Reuse:
    slack = None if back is None else minutes_between(back, reuse.needed)
    return replace(reuse, if_unopened_ready=back, if_unopened_slack=slack)


def when_record_ends(turnaround: Turnaround, state: Availability, waiter: Use) -> str:
    """Why a set on the shelf must run its route: its record ends before the case. Empty where it does not."""
    if not state.on_shelf or state.recorded_until is None or waiter.starts <= state.recorded_until:
        return ""
    return record_ends(state.recorded_until, turnaround.site.settings.site_clock)
