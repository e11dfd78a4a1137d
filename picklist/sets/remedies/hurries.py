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
from picklist.wording import span


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


def hurried_text(planned: PlannedDay, edit: Edit, choices: tuple[Edit, ...]) -> str:
    """How many minutes at which step; with several to choose from each with its own where they differ."""
    sets = hurried_sets(planned, edit)
    names = " and ".join(service.one.id for service in sets)
    if len(choices) < 2:
        return f"Save {span(edit.minutes)} at {edit.step} of {names} for case {edit.case}{_bounds(planned, sets, edit)}"
    same = len({one.minutes for one in choices}) == 1
    steps = "; ".join(
        f"{one.step}{'' if same else f' {span(one.minutes)}'}{_bounds(planned, sets, one)}" for one in choices
    )
    much = span(edit.minutes) if same else "time"
    return f"Save {much} on the way of {names} to case {edit.case}, at one of these steps: {steps}"


def _bounds(planned: PlannedDay, sets: list[Service], edit: Edit) -> str:
    """Waiting is what is saved: a process itself is never cut below its minimum."""
    steps = [step for service in sets for step in steps_of(planned, service) if step.name == edit.step]
    return f" (usual {span(steps[0].usual_minutes)}, minimum {span(steps[0].least_minutes)})" if steps else ""


def steps_of(planned: PlannedDay, service: Service) -> tuple[Step, ...]:
    """The steps that a set still has to do before the use that it serves."""
    if service.reuse is None:
        return ()
    plan = planned.plans[planned.context.group_of[service.use.tray]]
    return way_steps(planned.context, service.one, plan.states[service.one.id], service.reuse, service.use)
