"""Allocate the sets of one tray group: which set serves which use, and how each reuse stands."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from picklist.model.conflicts import Conflict
from picklist.model.sets import InstrumentSet
from picklist.model.uses import Assignment, Reuse, Use
from picklist.sets.allocate_jobs import AskedGroup, ask
from picklist.sets.allocation.solve import decided_against, solve
from picklist.sets.allocation.terms import AllocationQuestion, GivenSet, Grade, Level, NextFreeSet
from picklist.sets.calendar import instant_of, minute_until
from picklist.sets.find_conflicts import FoundConflict, find_conflicts
from picklist.sets.keep_printed_sets import keep_printed
from picklist.sets.planning_context import PlanningContext, Scenario
from picklist.sets.reuse import reuse_after, reuse_from_state
from picklist.sets.states import Availability, stands_there
from picklist.sets.sterile_records import record_after


@dataclass(frozen=True, slots=True, kw_only=True)
class Service:
    """A use with the set that serves it: after which use, at which grade, and the reuse (None: only to be fetched).

    ``under``: how many sets of its tray are then missing to the number kept ready. ``record_ends``: when the record
    ends that the set still has if the use leaves it unopened, where that is known.
    """

    use: Use
    one: InstrumentSet
    after: Use | None
    grade: Grade
    slack: int | None
    under: int
    reuse: Reuse | None
    expected: datetime | None
    record_ends: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupPlan:
    """The plan of one tray group. ``unserved``: each use without a set and the next to come free (None: none does).

    ``question`` and ``given`` are what was asked and answered in plain minutes. ``described`` is for
    ``describe_conflicts``: what there is to say of a conflict costs more than finding it, and a plan is asked again
    with every change of another group.
    """

    group: tuple[str, ...]
    services: tuple[Service, ...]
    unserved: tuple[tuple[Use, NextFreeSet | None], ...]
    sets: dict[str, InstrumentSet]
    states: dict[str, Availability]
    conflicts_found: tuple[FoundConflict, ...]
    question: AllocationQuestion
    given: tuple[GivenSet, ...]
    described: dict[str, tuple[Conflict, int]] = field(default_factory=dict, compare=False, repr=False)

    def decided_against(self, use: Use) -> Level | None:
        """What decided that a use goes without a set; None where no way of giving the sets serves it."""
        return decided_against(self.question, self.given, use.key)

    def on_set(self, set_id: str) -> tuple[Service, ...]:
        """The uses that a set serves, in order of time."""
        return tuple(service for service in self.services if service.one.id == set_id)

    def of_case(self, case: str, tray: str) -> tuple[Service, ...]:
        """What a case is given for one tray that it asks for."""
        return tuple(one for one in self.services if (one.use.case, one.use.tray) == (case, tray))

    def lacking(self, case: str, tray: str) -> tuple[Use, ...]:
        """The uses of a case for which it has no set of a tray that it asks for."""
        return tuple(use for use, _ in self.unserved if (use.case, use.tray) == (case, tray))


def allocate_group(context: PlanningContext, scenario: Scenario, group: tuple[str, ...]) -> GroupPlan:
    """Allocate one tray group in the best way, and walk each reuse."""
    asked = ask(context, scenario, group)
    answer = keep_printed(asked.question, solve(asked.question), context.printed)
    services: dict[str, Service] = {}
    for given in sorted(answer.given, key=lambda one: (asked.uses[one.job].needed, one.job)):
        services[given.job] = _service(context, scenario, asked, given, services.get(given.after))
    return GroupPlan(
        group=group,
        services=tuple(sorted(services.values(), key=lambda one: (one.use.needed, one.use.key))),
        unserved=tuple((asked.uses[key], coming) for key, coming in answer.waits.items()),
        sets=asked.sets.sets,
        states=asked.sets.states,
        conflicts_found=find_conflicts(asked.uses, answer, context.site.settings.margin, scenario.accepted),
        question=asked.question,
        given=answer.given,
    )


def assignments_of(plan: GroupPlan) -> tuple[Assignment, ...]:
    """The group's uses with the sets given to them; those without a set have none."""
    served = [_assignment(service) for service in plan.services]
    return (*served, *(_without(use, coming.minutes if coming else None) for use, coming in plan.unserved))


def _service(
    context: PlanningContext, scenario: Scenario, asked: AskedGroup, given: GivenSet, before: Service | None
) -> Service:
    use, one = asked.uses[given.job], asked.sets.sets[given.copy]
    state = asked.sets.states[one.id]
    record = before.record_ends if before else state.recorded_until
    reuse = None
    if before is not None:
        turnaround = context.turnaround_of(before.use.key, one.tray, scenario.hastes)
        reuse = reuse_after(turnaround, one, before.use, use, record, home=state.home)
    elif not stands_there(state, use):
        reuse = reuse_from_state(context.turnaround, one, state, use)
    arriving = state.ready if before is None and not state.on_shelf else None
    return Service(
        use=use,
        one=one,
        after=before.use if before else None,
        grade=given.grade,
        slack=given.slack,
        under=given.under,
        reuse=reuse,
        expected=reuse.ready if reuse else arriving,
        record_ends=record_after(record, use),
    )


def _assignment(service: Service) -> Assignment:
    return Assignment(
        use=service.use,
        set_id=service.one.id,
        tray_given=service.one.tray,
        stand_in=service.one.tray != service.use.tray,
        expected=service.expected,
        slack=service.slack,
        late=max(0, -service.slack) if service.grade is Grade.RUSH and service.slack is not None else 0,
    )


def _without(use: Use, minutes: int | None) -> Assignment:
    expected = None if minutes is None else instant_of(minute_until(use.needed) + minutes)
    return Assignment(
        use=use,
        set_id="",
        tray_given="",
        stand_in=False,
        expected=expected,
        slack=None if minutes is None else -minutes,
        late=minutes or 0,
    )
