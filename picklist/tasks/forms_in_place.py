"""Forms that were filled in where they were printed: taken in by the next build, before it prints them anew."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from picklist.documents.whole_folder import changed_since, is_ours
from picklist.evening.crew_workbook import read_cart_workbook
from picklist.evening.keep_plans import load_plan
from picklist.evening.usage import read_usage, record_usage
from picklist.model.plan import Plan
from picklist.model.site import Site
from picklist.problems import Problem
from picklist.store.keep_forms import mark_taken, not_said_before, was_taken
from picklist.store.state import StateFile
from picklist.store.state_errors import DamagedPlanError
from picklist.tasks.crew import keep_reports
from picklist.tasks.papers import read_plan_of
from picklist.wording import counted, listed

CARTS_BOOK = "carts.xlsx"  # for the crew to fill in
USED_BOOK = "used.xlsx"  # for the day after


@dataclass(frozen=True, slots=True, kw_only=True)
class FormsTaken:
    """What was found in the forms of a folder: a sentence for each, and what is wrong in them."""

    notices: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = ()


def take_forms(state: StateFile, site: Site, out: Path, now: datetime) -> FormsTaken:
    """Take in the forms of a folder that somebody filled in since they were printed, as ``carts`` and ``used`` do.

    What was taken in before is not taken again. A form of another site is left alone, with a word.
    """
    if not is_ours(out):
        return FormsTaken()
    changed = [name for name in (CARTS_BOOK, USED_BOOK) if changed_since(out, name)]
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


def _plan_of_forms(state: StateFile, out: Path) -> Plan | None:
    """The newest plan of the day for which the forms were printed, when this site printed them."""
    printed = read_plan_of(out)
    stored = None
    with suppress(DamagedPlanError):
        stored = load_plan(state, printed.day, printed.revision) if printed else None
    if stored is None or stored.json != (out / "plan.json").read_bytes():
        return None
    return printed


def _take(state: StateFile, site: Site, plan: Plan, form: Path, now: datetime) -> tuple[str, tuple[Problem, ...]]:
    if form.name == USED_BOOK:
        lines, problems = read_usage(form, plan, site)
        record_usage(state, lines, now, form.name)
        mark_taken(state, form, now)
        cases = len({line.case for line in lines})
        used = f"{counted(len(lines), 'line')} of {counted(cases, 'case')}"
        return f"{form.name} was filled in: {used} recorded for {plan.day}", problems
    facts, problems = read_cart_workbook(form, site.settings.site_clock, now, site.items)
    fresh = not_said_before(state, facts)
    told = keep_reports(state, fresh, site=site, plan=plan, now=now, source=form.name)
    mark_taken(state, form, now, facts)
    said = f"{form.name} was filled in: {counted(len(told.kept), 'cart')} recorded for {plan.day}"
    return said, (*problems, *told.problems)
