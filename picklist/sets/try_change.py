"""Try a change: the plan before and after, with nothing written."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from picklist.model.conflicts import Conflict, Edit, RemedyKind
from picklist.model.objections import Objection
from picklist.model.schedule import Case
from picklist.sets.allocate_group import allocate_group
from picklist.sets.find_conflicts import FoundConflict
from picklist.sets.plan_sets import SetsPlan, compose
from picklist.sets.remedies.hurries import hurried_sets, steps_of
from picklist.sets.remedies.other_rooms import why_not
from picklist.sets.remedies.planned_day import Edited, PlannedDay, apply_edits


@dataclass(frozen=True, slots=True, kw_only=True)
class CappedStep:
    """A step of a set that cannot be as much faster as was asked; no minutes when the set has no such step ahead."""

    set_id: str
    step: str
    usual: int | None = None
    least: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried:
    """Before and after. ``objection`` says why rooms, people or hours forbid the change; it is computed anyway.

    ``gone``, ``new``, ``worse`` and ``milder`` are conflicts, the last two as they are afterwards;
    ``cases`` are the live ones as the change leaves them; ``moved`` those at another start or in another room, as
    they were and as they are; ``capped`` says which steps cannot be as fast as was asked; ``changed`` is the day as
    planned with the change.
    """

    edits: tuple[Edit, ...]
    cases: tuple[Case, ...]
    before: SetsPlan
    after: SetsPlan
    objection: Objection | None
    gone: tuple[Conflict, ...]
    new: tuple[Conflict, ...]
    worse: tuple[Conflict, ...]
    milder: tuple[Conflict, ...]
    moved: tuple[tuple[Case, Case], ...] = ()
    capped: tuple[CappedStep, ...] = ()
    changed: PlannedDay = field(compare=False, repr=False)


def try_change(planned: PlannedDay, before: SetsPlan, edits: tuple[Edit, ...]) -> Tried:
    """Find what edits would do to a planned day, of which ``before`` was composed.

    Raises CannotTryError when one names what is not there.
    """
    edited = apply_edits(planned, edits)
    changed = with_edits(planned, edited)
    after = compose(changed)
    was, is_now = _conflicts_of(planned), _conflicts_of(changed)
    stayed = [one for one in after.conflicts if one.id in was]
    return Tried(
        edits=edits,
        cases=tuple(sorted(edited.cases.values(), key=lambda case: (case.start, case.room, case.number))),
        before=before,
        after=after,
        objection=why_not(planned, edited),
        gone=tuple(one for one in before.conflicts if one.id not in is_now),
        new=tuple(one for one in after.conflicts if one.id not in was),
        worse=tuple(one for one in stayed if not is_now[one.id].is_no_worse_than(was[one.id])),
        milder=tuple(one for one in stayed if not was[one.id].is_no_worse_than(is_now[one.id])),
        moved=tuple(
            (planned.cases[number], case)
            for number, case in edited.cases.items()
            if (case.start, case.room) != (planned.cases[number].start, planned.cases[number].room)
        ),
        changed=changed,
        capped=tuple(dict.fromkeys(step for edit in edits for step in _capped(planned, edit))),
    )


def _capped(planned: PlannedDay, edit: Edit) -> Iterator[CappedStep]:
    """The sets that cannot do the step of an edit as much faster as was asked."""
    for service in hurried_sets(planned, edit) if edit.kind is RemedyKind.FASTER else ():
        step = next((one for one in steps_of(planned, service) if one.name == edit.step), None)
        if step is None:
            yield CappedStep(set_id=service.one.id, step=edit.step)
        elif edit.minutes > max(0, step.usual_minutes - step.least_minutes):
            yield CappedStep(set_id=service.one.id, step=edit.step, usual=step.usual_minutes, least=step.least_minutes)


def with_edits(planned: PlannedDay, edited: Edited) -> PlannedDay:
    """Plan again after edits; only the tray groups that they touch change."""
    wanted = {use.tray for use in edited.scenario.uses}
    plans = dict(planned.plans)
    for group in edited.groups:
        plans.pop(group, None)
        if not wanted.isdisjoint(group):
            plans[group] = allocate_group(planned.context, edited.scenario, group)
    return replace(
        planned,
        cases=edited.cases,
        scenario=edited.scenario,
        plans={group: plans[group] for group in planned.context.groups if group in plans},
        memo={},
    )


def _conflicts_of(planned: PlannedDay) -> dict[str, FoundConflict]:
    return {one.id: one for plan in planned.plans.values() for one in plan.conflicts_found}
