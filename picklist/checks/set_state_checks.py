"""Check recorded set states against themselves, their route, the schedule and the clock."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import datetime, timedelta

from picklist.model.schedule import Case, CaseStatus
from picklist.model.sets import InstrumentSet, SetState
from picklist.model.site import Site
from picklist.model.uses import Assignment
from picklist.problems import Problem, notice, to_fix
from picklist.wording import counted

STALE = timedelta(days=7)  # common practice, no source: nothing stays at a step for a week

HERE = frozenset({SetState.ON_SHELF, SetState.DIRTY, SetState.AT_STEP, SetState.IN_USE})
NOTICES = frozenset({"old record", "in use in a done case", "record ended"})


def find_state_problems(site: Site, now: datetime) -> tuple[Problem, ...]:
    """One problem for each cell of a set's row that cannot be so at ``now``, in the order of the sets."""
    return tuple(
        problem
        for one in site.sets.values()
        for check in (_at_step, _in_use, _elsewhere, _record, _other_columns)
        for problem in check(site, one, now)
    )


_Check = Callable[[Site, InstrumentSet, datetime], Iterator[Problem]]


def _at_step(site: Site, one: InstrumentSet, now: datetime) -> Iterator[Problem]:
    clock = site.settings.site_clock
    if one.state is SetState.AT_STEP:
        tray = site.trays.get(one.tray)
        route = site.routes.get(tray.route) if tray else None
        names = tuple(step.name for step in route.steps) if route else ()
        if names and one.step not in names:
            message = f"set {one.id} is at step {one.step or '(none)'}, which its route does not have"
            yield _problem("step of another route", one, "step", message, " or ".join(names))
    if one.state in (SetState.AT_STEP, SetState.DIRTY) and one.step_since is not None:
        since = clock.stamp(one.step_since)
        if one.step_since > now:
            message = f"set {one.id} is at its step only since {since}, which is still to come"
            yield _problem("time to come", one, "step since", message, "a time that has passed")
        elif now - one.step_since > STALE:
            message = f"set {one.id} has been at its step since {since}"
            yield _problem("old record", one, "step since", message, "its state now")


def _in_use(site: Site, one: InstrumentSet, now: datetime) -> Iterator[Problem]:
    if one.state is not SetState.IN_USE:
        return
    case = next((case for case in site.cases if case.number == one.in_case), None)
    if case is None:
        message = f"set {one.id} is in use, but case {one.in_case or '(none)'} is not on the schedule"
        yield _problem("in use in no case", one, "in case", message, "the number of a running case")
    elif case.is_cancelled:
        message = f"set {one.id} is in use in case {case.number}, which is cancelled"
        yield _problem("in use in a cancelled case", one, "in case", message, "another state or case")
    elif case.status is CaseStatus.DONE:
        message = f"set {one.id} is in use in case {case.number}, which is done; it counts as dirty"
        yield _problem("in use in a done case", one, "in case", message, "its state now")
    elif case.status is CaseStatus.PLANNED and case.start - timedelta(hours=2) > now:
        message = f"set {one.id} is in use in case {case.number}, which has not started"
        yield _problem("in use too soon", one, "in case", message, "a running case, or on shelf")


def _elsewhere(site: Site, one: InstrumentSet, now: datetime) -> Iterator[Problem]:
    clock = site.settings.site_clock
    if one.state is SetState.AWAY and one.back_at is None:
        message = f"set {one.id} is away, but its row does not say until when"
        yield _problem("away without end", one, "back at", message, "day and time")
    if one.state is SetState.AWAY and one.back_at is not None and one.back_at < now:
        message = f"set {one.id} should have been back at {clock.stamp(one.back_at)}"
        yield _problem("time past", one, "back at", message, "a time to come, or its state now")
    if one.state is SetState.ON_LOAN and one.return_by is not None:
        arrives = max(now, one.back_at) if one.back_at else now
        if one.return_by <= arrives:
            message = f"set {one.id} goes back at {clock.stamp(one.return_by)}, before it can be used"
            yield _problem("time past", one, "return by", message, "a time after it is here")


def _record(site: Site, one: InstrumentSet, now: datetime) -> Iterator[Problem]:
    clock = site.settings.site_clock
    if one.recorded_at is not None and one.recorded_until is not None and one.recorded_until <= one.recorded_at:
        ends, made = clock.day_text(clock.last_day(one.recorded_until)), clock.stamp(one.recorded_at)
        message = f"set {one.id} is recorded as sterile at {made}, but only until the end of {ends}"
        yield _problem("record ends before it begins", one, "recorded sterile until", message, "a later day")
    if one.recorded_at is not None and one.recorded_at > now:
        message = f"set {one.id} is recorded as sterile at {clock.stamp(one.recorded_at)}, which is still to come"
        yield _problem("time to come", one, "recorded sterile at", message, "a time that has passed")
    if one.state is SetState.ON_SHELF and one.recorded_until is not None and one.recorded_until < now:
        ended = clock.day_text(clock.last_day(one.recorded_until))
        message = f"set {one.id} is on the shelf, but its record ended with {ended}"
        yield _problem(
            "record ended", one, "recorded sterile until", message, "the last day of a newer record, or its state now"
        )


def _other_columns(site: Site, one: InstrumentSet, now: datetime) -> Iterator[Problem]:
    """A set in two places: columns that belong to another state are filled in, or it is here and still to come."""
    if one.back_at is not None and one.back_at > now and one.state in HERE:
        back = site.settings.site_clock.stamp(one.back_at)
        message = f"set {one.id} is {one.state}, but its row also says that it is back at {back}"
        yield _problem("set in two places", one, "back at", message, "nothing here, or the state 'away' or 'on loan'")
    belongs = (
        ("in case", one.in_case, SetState.IN_USE),
        ("step", one.step, SetState.AT_STEP),
    )
    for column, value, state in belongs:
        if value and one.state is not state:
            message = f"set {one.id} is {one.state}, but its row also says {column} {value}"
            yield _problem("set in two places", one, column, message, f"nothing here, or the state '{state}'")


def _problem(kind: str, one: InstrumentSet, column: str, message: str, expected: str) -> Problem:
    made = notice if kind in NOTICES else to_fix
    return made(kind, one.where.at(column), message, expected=expected)


def find_late_loans(site: Site, assignments: Iterable[Assignment]) -> Iterator[Problem]:
    """A notice for each set on loan that comes later before its first case than the site's setting allows."""
    hours, clock = site.settings.loan_hours, site.settings.site_clock
    told: set[str] = set()
    for given in sorted(assignments, key=lambda each: (each.use.starts, each.use.key)):
        one = site.sets.get(given.set_id)
        if not hours or one is None or one.state is not SetState.ON_LOAN or one.id in told:
            continue
        told.add(one.id)
        by = given.use.starts - timedelta(hours=hours)
        if one.back_at is not None and one.back_at > by:
            message = (
                f"set {one.id} on loan is here from {clock.stamp(one.back_at)} for case {given.use.case} at "
                f"{clock.stamp(given.use.starts)}, later than {counted(hours, 'hour')} before it (setting 'loan hours')"
            )
            expected, cases = f"here by {clock.stamp(by)}", (given.use.case,)
            yield notice("loan comes late", one.where.at("back at"), message, expected=expected, cases=cases)


def find_unrecorded(site: Site, assignments: Iterable[Assignment]) -> Iterator[Problem]:
    """A notice for each tray of a running case that no set is recorded for, with what the plan takes it to have."""
    running = {case.number: case for case in site.cases if case.is_running}
    for one in assignments:
        case = running.get(one.use.case)
        if case is None:
            continue
        side = f", {one.use.side}" if one.use.side else ""
        wanted = f"{site.trays[one.use.tray].name}{side}"
        counts = f"{one.set_id} is taken to be the one it has" if one.set_id else "no other set could be the one it has"
        yield notice(
            "set of a running case not recorded",
            case.where.at("status"),
            f"case {case.number} is running, but no set of {wanted} is recorded as in use in it; {counts}",
            expected="in Sets, the state 'in use' and this case under 'in case'",
            cases=(case.number,),
        )


def find_used(recorded: Site, planned: Site, used: Mapping[str, Case]) -> Iterator[Problem]:
    """A notice for each set that is planned as dirty since a done case had it, though its row does not say so."""
    for set_id, case in used.items():
        one = recorded.sets.get(set_id)
        if one is not None and one.state is not planned.sets[set_id].state:
            yield notice(
                "set used since",
                one.where.at("state"),
                f"set {one.id} was on the cart of case {case.number}, which is over, and its row still says that it is "
                f"{one.state}; it counts as dirty",
                expected="its state now",
            )
