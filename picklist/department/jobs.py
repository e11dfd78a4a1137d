"""Collect everything that goes through the department in the horizon, as jobs, and split them into groups.

Usual minutes include normal waiting, and the run makes its own queues. So a step at a station
takes its *least* minutes here, and a step without a station (cooling, transport), which never
queues, takes its usual minutes. What is late in such a run is late however hard the department works.

A case whose set is late because of a queue waits for it, and gives it back that much later. A set
that could not be in time anyhow is a matter for a person tonight; its case gives it back as planned.
A set on hold counts as opened: the department must be ready for it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import lru_cache
from itertools import zip_longest

from picklist.clock import minutes_between, shift
from picklist.department.run_terms import DepartmentJob, JobGroup, JobStep
from picklist.grouping import grouped
from picklist.model.routes import Step
from picklist.model.sets import InstrumentSet, SetState
from picklist.model.uses import Assignment, Pace, Use
from picklist.sets.calendar import minute_from, minute_until
from picklist.sets.parts import joined_parts
from picklist.sets.states import Availability, first_available, home_of, is_in_date
from picklist.sets.timed_route import TimedRoute, minutes_of
from picklist.sets.turnaround import Turnaround

DAY = 1440


@dataclass(frozen=True, slots=True, kw_only=True)
class _SetWay:
    """A set's way through the department from one case to the next, before it becomes a job."""

    one: InstrumentSet
    steps: tuple[Step, ...]
    released: datetime
    giver: str
    waiter: Use | None
    home: str
    away: int = 0


def collect_jobs(turnaround: Turnaround, assignments: Sequence[Assignment], now: datetime) -> tuple[DepartmentJob, ...]:
    """Collect the jobs: sets dirty, in process, away or on loan now, and sets after each case; by set, then time.

    Ways that never end (no route, a station that never works) are left out.
    """
    uses = grouped((given.set_id, given.use) for given in assignments)
    jobs: list[DepartmentJob] = []
    for set_id in sorted(turnaround.site.sets):
        follows: int | None = None
        for way in _ways_of(turnaround, turnaround.site.sets[set_id], uses.get(set_id, ()), now):
            job = _make_job(turnaround, way, now, follows)
            if job is not None:
                follows = None if job.is_without_hope else len(jobs)
                jobs.append(job)
    return tuple(jobs)


@lru_cache(maxsize=4096)  # many sets go the same few ways
def department_steps(steps: tuple[Step, ...], route: tuple[Step, ...]) -> tuple[Step, ...]:
    """The steps with the minutes that the run uses for them as their usual minutes.

    ``route`` says which steps have a station; one that is under way no longer does in ``steps``.
    """
    stationed = {step.name for step in route if step.station}
    return tuple(replace(s, usual_minutes=minutes_of(s, Pace.LEAST)) if s.name in stationed else s for s in steps)


def _ways_of(turnaround: Turnaround, one: InstrumentSet, uses: Sequence[Use], now: datetime) -> list[_SetWay]:
    chain = sorted(uses, key=lambda use: (use.starts, use.key))
    state = first_available(turnaround, one, now)
    first = chain[0] if chain else None
    ways = [_way_now(one, state, first)] if _has_work(state, first) else []
    pairs = zip_longest(chain, chain[1:])
    return [*ways, *(_way_after(turnaround, one, use, waiter) for use, waiter in pairs)]


def _way_now(one: InstrumentSet, state: Availability, waiter: Use | None) -> _SetWay:
    return _SetWay(
        one=one, steps=state.steps, released=state.released, giver=state.giver, waiter=waiter, home=state.home
    )


def _way_after(turnaround: Turnaround, one: InstrumentSet, use: Use, waiter: Use | None) -> _SetWay:
    released, home = turnaround.released(use, one.tray), home_of(turnaround, one)
    steps = turnaround.steps_after(one.tray, use.building, home)
    return _SetWay(
        one=one,
        steps=turnaround.steps(one.tray) if steps is None else steps,
        released=released,
        giver=use.case,
        waiter=waiter,
        home=home,
        away=minutes_between(use.needed, released),
    )


def _has_work(state: Availability, first: Use | None) -> bool:
    if state.why_never or not state.steps:
        return False
    return not state.on_shelf or (first is not None and not is_in_date(state, first))


def _make_job(turnaround: Turnaround, way: _SetWay, now: datetime, follows: int | None) -> DepartmentJob | None:
    timed_route = _timed_route(turnaround, way)
    alone = timed_route.ready(way.released) if way.steps else None
    if alone is None:
        return None
    return DepartmentJob(
        set_id=way.one.id,
        tray=way.one.tray,
        from_case=way.giver,
        for_case=way.waiter.case if way.waiter else "",
        released=minute_from(way.released),
        due=minute_until(way.waiter.needed) if way.waiter else None,
        steps=_job_steps(turnaround, way, timed_route, (now, alone)),
        alone=minute_from(alone),
        follows=follows,
        away=way.away,
    )


def _timed_route(turnaround: Turnaround, way: _SetWay) -> TimedRoute:
    """The route of a way, with the transfer to where the set is wanted if one is listed."""
    steps = department_steps(way.steps, turnaround.steps(way.one.tray))
    to = way.waiter.building if way.waiter else ""
    timed_route = turnaround.timed_route_of(steps, Pace.USUAL, way.home, to)
    return timed_route or TimedRoute(steps, turnaround.calendar, Pace.USUAL)


def _job_steps(
    turnaround: Turnaround, way: _SetWay, timed_route: TimedRoute, now_and_alone: tuple[datetime, datetime]
) -> tuple[JobStep, ...]:
    now, alone = now_and_alone
    places = {step.name: place for place, step in enumerate(timed_route.steps)}
    ends = _latest_ends(timed_route, way.waiter, alone)
    known = turnaround.site.stations
    made = [
        JobStep(
            name=step.name,
            minutes=minutes_of(step, Pace.USUAL),
            after=tuple(places[name] for name in step.after),
            station=step.station if step.station in known else "",
            run=step.run,
            cycle=step.cycle,
            deadline=ends.get(step.name),
        )
        for step in timed_route.steps
    ]
    if way.one.state is SetState.AT_STEP and way.one.step in places and not way.away:
        place = places[way.one.step]
        made[place] = _under_way(turnaround, way, made[place], now)
    return tuple(made)


def _latest_ends(timed_route: TimedRoute, waiter: Use | None, alone: datetime) -> dict[str, int]:
    """The latest end of each step.

    A set that cannot be in time counts as due when it can be ready at best: it goes ahead of sets
    with time to spare, but not of those without. A set that nothing waits for counts as due a day
    later than that, so that it does not stay dirty for ever.
    """
    due = max(waiter.needed, alone) if waiter else shift(alone, DAY)
    ends = timed_route.latest_ends(minute_until(due))
    return {step.name: end for step, end in zip(timed_route.steps, ends, strict=True)} if ends else {}


def _under_way(turnaround: Turnaround, way: _SetWay, left: JobStep, now: datetime) -> JobStep:
    """The recorded step of a set in process: back at its machine, started when it was recorded."""
    step = next((s for s in turnaround.steps(way.one.tray) if s.name == left.name), None)
    if step is None or step.station not in turnaround.site.stations:
        return left
    at = minute_from(now)
    since = way.one.step_since
    started = at if since is None else min(at, minute_from(since))
    return replace(left, station=step.station, started=started, minutes=at + left.minutes - started)


Node = tuple[str, str | int]


def split_jobs(jobs: Sequence[DepartmentJob]) -> tuple[JobGroup, ...]:
    """Split the jobs into groups that share no station and no set, each in the order given."""
    ties: list[list[Node]] = []
    for place, job in enumerate(jobs):
        ties.append([("job", place), *(("station", step.station) for step in job.steps if step.station)])
        if job.follows is not None:
            ties.append([("job", place), ("job", job.follows)])
    group_of = {node: n for n, nodes in enumerate(joined_parts(ties)) for node in nodes}
    groups = grouped((group_of["job", place], place) for place in range(len(jobs)))
    return tuple(_group(jobs, places) for places in groups.values())


def _group(jobs: Sequence[DepartmentJob], places: Sequence[int]) -> JobGroup:
    new = {place: n for n, place in enumerate(places)}
    chosen = (jobs[place] for place in places)
    renumbered = (job if job.follows is None else replace(job, follows=new[job.follows]) for job in chosen)
    return JobGroup(jobs=tuple(renumbered), places=tuple(places))
