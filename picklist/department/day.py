"""Prepare a day of cases for the draws: cases in order, with the room and the sets that can delay each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime

from picklist.clock import minutes_between
from picklist.department.best_run import QueueTime
from picklist.department.ready_table import ReadyTables
from picklist.model.routes import Step
from picklist.model.schedule import Case, one_after_another
from picklist.model.sets import SetState
from picklist.model.site import Site
from picklist.model.uses import Act, Assignment, Pace, Reuse, Use
from picklist.sets.calendar import Calendar, make_calendar, minute_from, minute_until
from picklist.sets.case_uses import building_of, case_times
from picklist.sets.states import first_available, home_of, ready_for
from picklist.sets.turnaround import Turnaround
from picklist.sets.walk import begins_in_room

MINUTES_PER_DAY = 1440
DAYS_AHEAD = 8  # how far beyond the last need a set's way is followed


@dataclass(frozen=True, slots=True, kw_only=True)
class ReuseLink:
    """A reuse between two cases of the day, by their places.

    ``giver`` and ``waiter`` are places of cases (-1: no case gives it, or none of the day).
    ``released`` and ``needed`` are minutes since the epoch, and so are ``fixed`` and ``hurried``: when a set
    without a giver is ready, as the plan says it and when hurried. ``delay``: minutes that the department's run
    costs it beyond its way alone; None where the run does not have it. ``arrives``: it is still to be brought to
    the house, and comes as late as is drawn.
    """

    reuse: Reuse
    giver: int
    waiter: int
    released: int
    needed: int
    steps: tuple[Step, ...] = ()
    delay: int | None = None
    fixed: int = 0
    hurried: int = 0
    arrives: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    """Cases in order of start.

    ``before``: place of the case before in the room (-1: none); ``spare``: minutes that case may
    end late without pushing this one. ``unserved``: places of cases with a use that no set
    serves, and the tray wanted.
    """

    cases: tuple[Case, ...]
    before: tuple[int, ...]
    spare: tuple[int, ...]
    links: tuple[ReuseLink, ...]
    unserved: tuple[tuple[int, str], ...]
    stairs: ReadyTables


@dataclass(frozen=True, slots=True, kw_only=True)
class ChanceModel:
    """What a day is made from. Without a ``queue`` each set takes its route's usual minutes.

    ``queue``: when a set is ready in the department's run, by set and waiting case;
    ``hastened``: by use, the steps on the way to it that are to be faster than usual.
    """

    site: Site
    cases: tuple[Case, ...]
    assignments: tuple[Assignment, ...]
    reuses: tuple[Reuse, ...]
    now: datetime
    queue: Mapping[tuple[str, str], QueueTime] = field(default_factory=dict)
    hastened: Mapping[str, tuple[Step, ...]] = field(default_factory=dict)


def make_day(model: ChanceModel, stairs: ReadyTables | None = None) -> Day:
    """Make the day of a model; ``stairs`` of the same calendar may be shared."""
    turnaround = Turnaround(model.site)
    cases = tuple(sorted(model.cases, key=lambda case: (case.start, case.number)))
    places = {case.number: place for place, case in enumerate(cases)}
    before, spare = _room_order(model.site, cases)
    return Day(
        cases=cases,
        before=before,
        spare=spare,
        links=_make_links(model, turnaround, places),
        unserved=tuple(_unserved(model.assignments, places)),
        stairs=stairs or make_ready_tables(model.site, _moments(model), turnaround.calendar),
    )


def with_queue(day: Day, model: ChanceModel, queue: Mapping[tuple[str, str], QueueTime]) -> Day:
    """The day of the same model with another queue: only what is then ready at another time is made again."""
    changed, turnaround = replace(model, queue=queue), Turnaround(model.site, day.stairs.calendar)
    known = _known(model, {case.number: place for place, case in enumerate(day.cases)})
    waits = [(link, (link.reuse.set_id, link.reuse.waiter)) for link in day.links]
    links = (
        link if queue.get(key) == model.queue.get(key) else _make_link(changed, turnaround, link.reuse, known)
        for link, key in waits
    )
    return replace(day, links=tuple(links))


def _unserved(assignments: Sequence[Assignment], places: dict[str, int]) -> list[tuple[int, str]]:
    without = [given.use for given in assignments if not given.set_id and given.use.case in places]
    return sorted((places[use.case], use.tray) for use in without)


def _room_order(site: Site, cases: Sequence[Case]) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """The case before in each room, and how late it may end without delaying the next.

    Two cases planned closer than the turnover need no more minutes than the schedule gives them.
    """
    places = {case.number: place for place, case in enumerate(cases)}
    before, spare = [-1] * len(cases), [0] * len(cases)
    for one, other in one_after_another(cases, site.settings.site_clock):
        gap = minutes_between(one.start, other.start) - one.minutes
        before[places[other.number]] = places[one.number]
        spare[places[other.number]] = max(0, gap - site.settings.turnover)
    return tuple(before), tuple(spare)


def _moments(model: ChanceModel) -> list[datetime]:
    return [model.now, *(reuse.released for reuse in model.reuses), *(reuse.needed for reuse in model.reuses)]


def make_ready_tables(site: Site, moments: Sequence[datetime], calendar: Calendar | None = None) -> ReadyTables:
    """Tables that reach from a day before the first of some moments to ``DAYS_AHEAD`` days after the last."""
    first, last = minute_from(min(moments)), minute_from(max(moments))
    calendar = calendar or make_calendar(site)
    return ReadyTables(calendar, first - MINUTES_PER_DAY, last + DAYS_AHEAD * MINUTES_PER_DAY)


def _make_links(model: ChanceModel, turnaround: Turnaround, places: dict[str, int]) -> tuple[ReuseLink, ...]:
    known = _known(model, places)
    reuses = sorted(model.reuses, key=lambda one: (one.waiter, one.set_id, one.released))
    links = [_make_link(model, turnaround, reuse, known) for reuse in reuses if reuse.waiter in places]
    return tuple(sorted(links, key=lambda link: link.waiter))


_Known = tuple[dict[str, int], dict[str, Use], dict[str, Case]]  # places of cases, uses by key, cases by number


def _known(model: ChanceModel, places: dict[str, int]) -> _Known:
    uses = {given.use.key: given.use for given in model.assignments}
    return places, uses, {case.number: case for case in model.cases}


def _make_link(model: ChanceModel, turnaround: Turnaround, reuse: Reuse, known: _Known) -> ReuseLink:
    places, uses, cases = known
    giver_case = cases.get(reuse.giver)
    waiter = places[reuse.waiter]
    way = model.queue.get((reuse.set_id, reuse.waiter))
    use = uses.get(reuse.waiter_use)
    giver = places.get(reuse.giver, -1)
    fixed, hurried = _ready_without_giver(model, turnaround, reuse, use)
    return ReuseLink(
        reuse=reuse,
        giver=giver if giver < waiter else -1,
        waiter=waiter,
        released=_released(turnaround, reuse, giver_case if giver_case and giver_case.is_running else None),
        needed=minute_until(reuse.needed),
        steps=_steps(model, turnaround, reuse, (use, giver_case)),
        delay=max(0, way.ready - way.alone) if way else None,
        fixed=max(minute_from(fixed), way.ready if way else 0),
        hurried=minute_from(hurried),
        arrives=_is_to_be_brought(model, reuse),
    )


def _is_to_be_brought(model: ChanceModel, reuse: Reuse) -> bool:
    one = model.site.sets.get(reuse.set_id)
    if one is None or reuse.giver or one.state not in (SetState.AWAY, SetState.ON_LOAN):
        return False
    return one.back_at is not None and one.back_at > model.now


def _ready_without_giver(
    model: ChanceModel, turnaround: Turnaround, reuse: Reuse, use: Use | None
) -> tuple[datetime, datetime]:
    """When a set that no case gives is ready, at usual pace and hurried.

    Worked out again, as the model's hours may differ from the plan's.
    """
    one = model.site.sets.get(reuse.set_id)
    put_back = reuse.deadline_of(Act.OFF_CART) is not None
    if reuse.giver or use is None or one is None or put_back or reuse.waiter_use in model.hastened:
        return reuse.ready, reuse.least_ready
    state = first_available(turnaround, one, model.now)
    usual, least = (ready_for(turnaround, state, use, pace) for pace in (Pace.USUAL, Pace.LEAST))
    return usual or reuse.ready, least or reuse.least_ready


def _released(turnaround: Turnaround, reuse: Reuse, running: Case | None) -> int:
    """When the route starts if the giver ends on plan, also where a running case is past its plan already."""
    if running is None:
        return minute_from(reuse.released)
    settings = turnaround.site.settings
    haul = 0 if begins_in_room(turnaround.steps(reuse.tray)) else settings.haul
    return minute_from(case_times(settings, running).leaves_room) + haul


def _steps(
    model: ChanceModel, turnaround: Turnaround, reuse: Reuse, between: tuple[Use | None, Case | None]
) -> tuple[Step, ...]:
    """The whole way to the use, with the way back from its giver's building and the transfer to its own."""
    if reuse.waiter_use in model.hastened:
        return model.hastened[reuse.waiter_use]
    use, giver = between
    one = turnaround.site.sets.get(reuse.set_id)
    home = home_of(turnaround, one) if one else ""
    used_in = building_of(model.site, giver.room) if giver else ""
    timed_route = turnaround.timed_route(reuse.tray, Pace.USUAL, home, use.building if use else "", used_in)
    return timed_route.steps if timed_route else turnaround.steps(reuse.tray)
