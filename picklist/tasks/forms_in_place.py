"""Forms that were filled in where they were printed: taken in by the next build, before it prints them anew."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from picklist.documents.plan_json import plan_from_json
from picklist.documents.whole_folder import changed_since, is_ours, listed_files
from picklist.evening.revise import plan_kept
from picklist.model.plan import Plan
from picklist.model.site import Site
from picklist.problems import Problem
from picklist.store.keep_forms import was_taken
from picklist.store.state import StateFile
from picklist.tasks.crew import record_form
from picklist.tasks.day_after import record_used
from picklist.tasks.papers import read_plan_of
from picklist.wording import counted, listed

CARTS_BOOK = "carts.xlsx"  # for the crew to fill in
USED_BOOK = "used.xlsx"  # for the day after


@dataclass(frozen=True, slots=True, kw_only=True)
class FormsTaken:
    """What was found in the forms of a folder: a sentence for each, and what is wrong in them."""

    notices: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = ()


def joined(some: Iterable[FormsTaken]) -> FormsTaken:
    """What was found one time after the other."""
    taken = tuple(some)
    return FormsTaken(
        notices=tuple(said for one in taken for said in one.notices),
        problems=tuple(problem for one in taken for problem in one.problems),
    )


def take_forms(state: StateFile, site: Site, out: Path, now: datetime) -> FormsTaken:
    """Take in the forms of a folder that somebody filled in since they were printed, as ``carts`` and ``used`` do.

    What was taken in before is not taken again. A form of another site is left alone, with a word.
    """
    if not is_ours(out):
        return FormsTaken()
    changed = [name for name in (CARTS_BOOK, USED_BOOK) if _is_filled_in(out, name)]
    if not changed:
        return FormsTaken()
    plan = _plan_of_forms(state, out)
    if plan is None:
        foreign = (
            f"{listed(changed)} in {out} belongs to another site, or to a plan that can no longer be read; "
            "nothing in it was recorded"
        )
        return FormsTaken(notices=(foreign,))
    notices: list[str] = []
    problems: list[Problem] = []
    for name in changed:
        form = out / name
        if was_taken(state, form):
            continue
        said, wrong = _take(state, site, plan, form, now)
        notices.append(said)
        problems += wrong
    return FormsTaken(notices=tuple(notices), problems=tuple(problems))


def _is_filled_in(out: Path, name: str) -> bool:
    """Whether somebody saved a form: over the one that was printed, or where it is still to be printed."""
    listed = listed_files(out)
    return bool(changed_since(out, name)) or (listed is not None and name not in listed and (out / name).is_file())


def _plan_of_forms(state: StateFile, out: Path) -> Plan | None:
    """The plan for which the forms were printed, when this site printed them.

    Where the power went out just as the papers were put in place, the state may keep it without its remedies.
    """
    printed = read_plan_of(out)
    kept = plan_kept(state, printed.day, plan_from_json, printed.revision) if printed else None
    if printed is None or kept is None or (kept.now, kept.carts) != (printed.now, printed.carts):
        return None
    return printed


def _take(state: StateFile, site: Site, plan: Plan, form: Path, now: datetime) -> tuple[str, tuple[Problem, ...]]:
    if form.name == USED_BOOK:
        used = record_used(state, form, plan, site, now)
        cases = len({line.case for line in used.lines})
        many = f"{counted(len(used.lines), 'line')} of {counted(cases, 'case')}"
        return f"{form.name} was filled in: {many} recorded for {plan.day}", used.problems
    told = record_form(state, form, site, now, lambda _: plan)
    return f"{form.name} was filled in: {counted(len(told.kept), 'cart')} recorded for {plan.day}", told.problems
