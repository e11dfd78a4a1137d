"""The page on which a change is tried: before and after, in words and on the board, with nothing written."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

from starlette.responses import Response

from picklist import wording
from picklist.letters import natural_key, whole_number
from picklist.model.plan import Plan, in_order_of_completion
from picklist.model.sets import NEVER_AVAILABLE
from picklist.server.conflict_entries import conflict_entries
from picklist.server.paper_pages import board_page
from picklist.server.visit import NotHere, Visit
from picklist.server.work import Lane
from picklist.tasks.errors import WrongUse, without_private
from picklist.tasks.shown import Lookup
from picklist.tasks.try_out import TryAnswer, plan_ahead, try_on_plan
from picklist.wording.edits import write_edit
from picklist.wording.trials import forbidden

MOST_CHANGES = 12
AHEAD = "Planning the evening"
NO_LISTS = "no lists are built yet; build them, then try a change"
# Each row of the form: its fields, in the order in which the words take them, and the words.
ROWS: dict[str, tuple[str, ...]] = {
    "move {case} to {time}": ("case", "time"),
    "swap {case} and {other}": ("case", "other"),
    "room {case} to {room}{at}": ("case", "room"),
    "extra {tray} by {time}{for}": ("tray", "time"),
    "instead {case} {tray} with {stand_in}": ("case", "tray", "stand_in"),
    "faster {case} {tray} {step} {minutes}": ("case", "tray", "step", "minutes"),
    "cancel {case}": ("case",),
    "complete {set} by {time} for {case}": ("set", "time", "case"),
    "without {tray} for {case}": ("tray", "case"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class TriedChanges:
    """Changes that were tried together, with the plan before and after."""

    changes: tuple[str, ...]
    answer: TryAnswer
    before: Plan
    after: Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class RefusedTrial:
    """Changes that could not be tried, why, and the words as they were typed into the form."""

    sentence: str
    changes: tuple[str, ...]
    typed: Mapping[str, str]


def show_try(visit: Visit) -> Response:
    """The form, with nothing tried yet; while it is filled in, the evening is planned on which it will be tried."""
    desk = visit.desk
    plan = desk.plan()
    if plan is not None and not desk.changed_since_built():
        desk.workshop.start(AHEAD, Lane.CHECK, lambda _: plan_ahead(desk.folder, plan, desk.now()), "", once=True)
    return _form(visit)


def try_form(visit: Visit) -> Response:
    """Try what the form says, beside the changes that it carries on; what cannot be tried stays in the form."""
    kept = [change for change in visit.lists.get("change", ()) if change.strip()]
    typed = {name: said for name, said in visit.form.items() if "-" in name and said.strip()}
    try:
        return _start(visit, [*kept, *_new_changes(visit)], kept, typed)
    except WrongUse as wrong:
        return _refused(visit, RefusedTrial(sentence=str(wrong), changes=tuple(kept), typed=typed))


def try_remedy(visit: Visit) -> Response:
    """Try a remedy of a conflict."""
    plan = visit.plan(NO_LISTS)
    clock = plan.settings.site_clock
    found = [one for one in plan.conflicts if one.id == visit.form.get("conflict")]
    number = whole_number(visit.form.get("remedy", ""))
    if not found or number is None or number >= len(found[0].remedies):
        raise NotHere
    days = {case.number: case.day for case in plan.cases}
    changes = [write_edit(one, clock, days.get(one.case, plan.day)) for one in found[0].remedies[number].edits]
    return _start(visit, changes, changes, {})


def _form(visit: Visit, **view: Any) -> Response:
    """The form, with what was tried or refused before it."""
    plan = visit.desk.plan()
    choices = _choices(plan) if plan else None
    return visit.show(
        "try", "try", **{"choices": choices, "changes": (), "trial": None, "typed": {}, "refused": ""} | view
    )


def _refused(visit: Visit, one: RefusedTrial) -> Response:
    """The form as it was filled in, and why it could not be tried."""
    typed = without_private(one.typed, visit.desk.now())
    answer = _form(visit, changes=one.changes, typed=typed, refused=one.sentence)
    answer.status_code = 422
    return answer


def _new_changes(visit: Visit) -> list[str]:
    """The words of each row of the form that is filled in."""
    changes = []
    for number, (pattern, needed) in enumerate(ROWS.items()):
        said = {name: " ".join(visit.form.get(f"{number}-{name}", "").split()) for name in FIELDS}
        filled = [name for name in needed if said[name]]
        if not filled:
            continue
        if len(filled) < len(needed):
            missing = wording.listed(NAMES[name] for name in needed if name not in filled)
            raise WrongUse(f"to {pattern.split()[0]}, also enter: {missing}")
        said["at"] = f" at {said['time']}" if said["time"] else ""
        said["for"] = f" for {said['case']}" if said["case"] else ""
        changes.append(pattern.format(**said))
    return changes


FIELDS = ("case", "other", "time", "room", "tray", "stand_in", "step", "minutes", "set")
NAMES = {
    "case": "the case",
    "other": "the other case",
    "time": "the time",
    "room": "the room",
    "tray": "the tray",
    "stand_in": "the tray instead",
    "step": "the step",
    "minutes": "the minutes",
    "set": "the set",
}


def _start(visit: Visit, changes: Sequence[str], kept: Sequence[str], typed: Mapping[str, str]) -> Response:
    if not changes:
        raise WrongUse("fill in one of the lines to try a change")
    if len(changes) > MOST_CHANGES:
        raise WrongUse(f"try at most {MOST_CHANGES} changes together")
    desk, plan = visit.desk, visit.plan(NO_LISTS)
    stale = desk.changed_since_built()
    if stale:
        raise WrongUse(f"{wording.listed(stale)} changed since the lists were built; build again, then try")

    def doing() -> TriedChanges | RefusedTrial:
        try:
            answer, after = try_on_plan(desk.folder, plan, list(changes), desk.now())
        except WrongUse as wrong:
            return RefusedTrial(sentence=str(wrong), changes=tuple(kept), typed=typed)
        return TriedChanges(changes=tuple(changes), answer=answer, before=plan, after=after)

    return visit.wait_for(f"Trying: {'; '.join(changes)}", Lane.PLAN, doing, "try/{}")


def show_tried(visit: Visit) -> Response:
    """What the changes would do, or why they could not be tried."""
    with suppress(NotHere):
        return _refused(visit, visit.result(RefusedTrial))
    trial = visit.result(TriedChanges)
    answer = trial.answer
    before, after = Lookup(trial.before), Lookup(trial.after)
    groups = (
        ("Gone", "no longer a conflict", conflict_entries(before, answer.tried.gone)),
        ("New", "new because of the change", conflict_entries(after, answer.tried.new)),
        ("Worse", "was there before, now worse", conflict_entries(after, answer.tried.worse)),
        ("Milder", "was there before, now less severe", conflict_entries(after, answer.tried.milder)),
    )
    return _form(
        visit,
        changes=trial.changes,
        trial=visit.path["work"],
        objection=forbidden(answer.tried.objection),
        notes_on_it=answer.notes,
        number_before=len(answer.before),
        number_after=len(answer.after),
        outcomes=groups,
    )


def send_tried_board(visit: Visit) -> Response:
    """The board before or after the changes."""
    trial = visit.result(TriedChanges)
    if visit.path["when"] not in ("before", "after"):
        raise NotHere
    plan = trial.before if visit.path["when"] == "before" else trial.after
    return board_page(plan)


def _choices(plan: Plan) -> dict[str, list[Any]]:
    """What the fields of the form may name."""
    found = Lookup(plan)
    savings = {saving.step for one in plan.conflicts for saving in one.savings}
    return {
        "cases": [
            (cart.case.number, f"{cart.case.room} {found.when(cart.case.start)}, {cart.surgeon_name}")
            for cart in in_order_of_completion(plan.carts)
        ],
        "rooms": sorted({case.room for case in plan.cases}, key=natural_key),
        "trays": [(tray.id, tray.name) for tray in plan.trays],
        "steps": sorted(savings),
        "sets": [(one.id, one.state.value) for one in plan.sets if one.state in NEVER_AVAILABLE],
    }
