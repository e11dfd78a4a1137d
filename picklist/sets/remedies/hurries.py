"""Minutes saved on a set's way: one remedy for all the steps at which they can be saved, and until when."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime

from picklist.model.conflicts import Edit, RemedyKind
from picklist.model.routes import Step
from picklist.sets.allocate_group import Service
from picklist.sets.remedies.planned_day import PlannedDay
from picklist.sets.remedies.trial import TrialResult
from picklist.sets.savings import way_steps
from picklist.wording.say_remedies import StepToHurry


def hurries_joined(planned: PlannedDay, verdicts: Iterable[TrialResult]) -> list[TrialResult]:
    """The verdicts, with those that save minutes on one set's way as one, which names every step that will do.

    The one that is possible longest stands for them. Of several steps together the first found is kept.
    """
    joined: dict[object, list[TrialResult]] = {}
    for number, verdict in enumerate(verdicts):
        first = verdict.edits[0]
        hurried = all(edit.kind is RemedyKind.FASTER for edit in verdict.edits)
        joined.setdefault((first.case, first.tray) if hurried else number, []).append(verdict)
    return [_joined(planned, some) if len(some) > 1 else some[0] for some in joined.values()]


def _joined(planned: PlannedDay, some: list[TrialResult]) -> TrialResult:
    single = [verdict for verdict in some if len(verdict.edits) == 1]
    if not single:
        return some[0]
    longest = max(single, key=lambda verdict: step_begins(planned, verdict.edits[0]) or planned.context.now)
    return replace(longest, choices=tuple(verdict.edits[0] for verdict in single))


def step_begins(planned: PlannedDay, edit: Edit) -> datetime | None:
    """When the step of a hurried set begins at usual pace; of several sets the first."""
    begins = [
        time.begins
        for service in hurried_sets(planned, edit)
        for time in (service.reuse.walk.steps if service.reuse else ())
        if time.step == edit.step
    ]
    return min(begins, default=None)


def hurried_sets(planned: PlannedDay, edit: Edit) -> list[Service]:
    """The sets that are made ready for the case of an edit."""
    services = [planned.service(use) for use in planned.uses_of(edit.case, edit.tray)]
    return [service for service in services if service is not None and service.reuse]


def steps_to_hurry(planned: PlannedDay, edits: tuple[Edit, ...]) -> list[StepToHurry]:
    """Each step of a hurried set at which the minutes of one of the edits can be saved."""
    found = []
    for edit in edits:
        ahead = [step for service in hurried_sets(planned, edit) for step in steps_of(planned, service)]
        step = next((one for one in ahead if one.name == edit.step), None)
        usual, least = (step.usual_minutes, step.least_minutes) if step else (None, None)
        found.append(StepToHurry(edit.step, edit.minutes, usual, least))
    return found


def steps_of(planned: PlannedDay, service: Service) -> tuple[Step, ...]:
    """The steps that a set still has to do before the use that it serves."""
    if service.reuse is None:
        return ()
    plan = planned.plans[planned.context.group_of[service.use.tray]]
    return way_steps(planned.context, plan.states[service.one.id], service.after, service.use)
