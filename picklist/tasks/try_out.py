"""Try changes to the evening, before and after, with nothing written."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path

from picklist.clock import SiteClock
from picklist.department import queue_conflicts, run_again, run_department
from picklist.model.conflicts import Conflict, Edit
from picklist.model.plan import Plan
from picklist.model.schedule import Case
from picklist.model.site import Site
from picklist.plan.make import change_plan, resolve_horizon
from picklist.problems import Problem
from picklist.sets.case_uses import make_uses, stopped_cases
from picklist.sets.remedies.planned_day import CannotTryError
from picklist.sets.try_change import Tried, try_change
from picklist.tasks.crew import what_stands
from picklist.tasks.errors import WrongUse
from picklist.tasks.read_folder import Loaded, choose_day, load_site
from picklist.wording.conflicts import statement
from picklist.wording.edits import read_edit


@dataclass(frozen=True, slots=True, kw_only=True)
class TryAnswer:
    """What a change would do: lines to read out, and the conflicts before and after."""

    lines: tuple[str, ...]
    tried: Tried


def try_words(folder: Path, changes: list[str], now: datetime, day: date | None = None) -> TryAnswer:
    """Try changes in words, all together. Raises WrongUse for a word that cannot be read or tried."""
    loaded, site = load_site(folder, now)
    wanted = choose_day(site, loaded.now, day)
    tried = _with_queue(site, loaded.now, _try(loaded, site, _read(site, changes, wanted)))
    return TryAnswer(lines=_lines(tried, site.settings.site_clock), tried=tried)


def try_on_plan(folder: Path, plan: Plan, changes: list[str], now: datetime) -> tuple[TryAnswer, Plan]:
    """As ``try_words`` on the day of a plan, with the plan as the changes would leave it, for the board.

    ``plan`` is one built from the folder as it lies there. Raises WrongUse.
    """
    loaded, read = load_site(folder, now)
    site = replace(read, settings=plan.settings)
    tried = _try(loaded, site, _read(site, changes, plan.day))
    answer = TryAnswer(lines=_lines(tried, site.settings.site_clock), tried=tried)
    return answer, change_plan(site, plan, tried.cases, tried.after)


def _read(site: Site, changes: list[str], day: date) -> tuple[Edit, ...]:
    edits: list[Edit] = []
    wrong: list[Problem] = []
    for change in changes:
        edit, problems = read_edit(site, change, day)
        wrong += problems
        edits += [edit] if edit else []
    if wrong:
        raise WrongUse("; ".join(problem.sentence() for problem in wrong))
    return tuple(edits)


def _try(loaded: Loaded, site: Site, edits: tuple[Edit, ...]) -> Tried:
    cases, needs = resolve_horizon(site, loaded.problems, loaded.now)
    uses = make_uses(site, needs, cases)
    stands = what_stands(loaded.folder, site, cases)
    stopped = stopped_cases(cases, needs)
    try:
        return try_change(site, uses, loaded.now, edits, held=stands.fixed, stopped=stopped, printed=stands.printed)
    except CannotTryError as cannot:
        raise WrongUse(str(cannot)) from None


def _with_queue(site: Site, now: datetime, tried: Tried) -> Tried:
    """The same with what the department's queue makes late, before and after."""
    clock = site.settings.site_clock
    run = run_department(site, tried.before.assignments, now)
    again = run_again(site, tried.after.assignments, now, run)
    before = {one.id: one for one in queue_conflicts(run, tried.before.reuses, clock)}
    after = {one.id: one for one in queue_conflicts(again, tried.after.reuses, clock)}
    both = [(before[key], one) for key, one in after.items() if key in before]
    return replace(
        tried,
        queue=(tuple(before.values()), tuple(after.values())),
        gone=(*tried.gone, *(one for key, one in before.items() if key not in after)),
        new=(*tried.new, *(one for key, one in after.items() if key not in before)),
        worse=(*tried.worse, *(now for was, now in both if now.minutes > was.minutes)),
        milder=(*tried.milder, *(now for was, now in both if now.minutes < was.minutes)),
    )


def _lines(tried: Tried, clock: SiteClock) -> tuple[str, ...]:
    before = len(tried.before.conflicts) + len(tried.queue[0])
    after = len(tried.after.conflicts) + len(tried.queue[1])
    lines = [f"Conflicts: {before} before, {after} after. Nothing was written."]
    if tried.objection:
        lines.append(f"NOT ALLOWED: {tried.objection}")
    lines += (f"note: {one}." for one in tried.capped)
    lines += (_moved(was, now, clock) for was, now in tried.moved)
    for title, conflicts in (
        ("gone", tried.gone),
        ("new", tried.new),
        ("worse", tried.worse),
        ("milder", tried.milder),
    ):
        lines += (f"{title}: {_conflict(conflict, clock)}" for conflict in conflicts)
    if not (tried.gone or tried.new or tried.worse or tried.milder):
        lines.append("No conflict changes.")
    return tuple(lines)


def _moved(was: Case, now: Case, clock: SiteClock) -> str:
    """``case C-4134 in OR 9: 10:30 instead of 07:30``."""
    room = now.room if now.room == was.room else f"{now.room} instead of {was.room}"
    start = clock.stamp(now.start)
    return f"case {now.number} in {room}: {start}" + (
        f" instead of {clock.hhmm(was.start)}" if now.start != was.start else " as planned"
    )


def _conflict(conflict: Conflict, clock: SiteClock) -> str:
    by = f" (decide by {clock.stamp(conflict.decide_by)})" if conflict.decide_by else ""
    return f"{conflict.kind.value}, case {conflict.waiter}: {statement(conflict, clock)}{by}"
