"""Try changes to the evening, before and after, with nothing written."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from pathlib import Path
from threading import Lock

from picklist.clock import SiteClock
from picklist.department import ChanceAfter, run_again, run_department
from picklist.model.conflicts import Cluster, Conflict, ConflictKind, Edit, conflicts_in
from picklist.model.department import DepartmentRun
from picklist.model.needs import CaseNeeds
from picklist.model.objections import Lack
from picklist.model.plan import Plan
from picklist.model.schedule import Case
from picklist.model.site import Site
from picklist.plan.make import (
    OnCarts,
    add_queue,
    change_plan,
    horizon_cases,
    resolve_horizon,
    stopped_numbers,
    what_cases_want,
)
from picklist.problems import Problem
from picklist.sets.plan_sets import SetsPlan, compose, make_planned_day
from picklist.sets.remedies.planned_day import CannotTryError, PlannedDay
from picklist.sets.try_change import Tried, try_change
from picklist.tasks.beside_site import what_stands, write_mark
from picklist.tasks.errors import WrongUse, refuse_private
from picklist.tasks.read_folder import Loaded, choose_day, load_site
from picklist.wording.edits import read_edit
from picklist.wording.say_conflicts import statement
from picklist.wording.trials import capped_step, chance_of_case, forbidden, lacking, moved_case

NOTHING_ON_CARTS = OnCarts()


@dataclass(frozen=True, slots=True, kw_only=True)
class TryAnswer:
    """What changes would do, in the department's queue too.

    ``before`` and ``after`` are all conflicts; ``notes`` say which cases are at new times, what was asked for and
    cannot be, and what chance of being late is left; ``lines`` are everything, to read out. ``run`` is the
    department's with the changes.
    """

    tried: Tried
    before: tuple[Conflict, ...]
    after: tuple[Conflict, ...]
    clusters: tuple[Cluster, ...]
    run: DepartmentRun
    notes: tuple[str, ...]
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Evening:
    """The cases to come as they are planned at ``now``, with sets, department and chances: what trials start from."""

    site: Site
    now: datetime
    planned: PlannedDay
    sets: SetsPlan
    run: DepartmentRun
    conflicts: tuple[Conflict, ...]
    chances: ChanceAfter | None


class LastEvening:
    """The evening on which a change was tried last, for the next one: planning it takes longer than the change."""

    def __init__(self) -> None:
        self._last: tuple[object, Evening] | None = None
        self._lock = Lock()  # who asks for what is being planned waits for it

    def plan(self, loaded: Loaded, site: Site, lately: timedelta) -> Evening:
        """The evening of a folder: as it was planned, where all is the same but the time, and that lately.

        ``site`` is the one of the folder, with other settings or its own.
        """
        cases, mark = horizon_cases(site, loaded.now), write_mark(loaded.folder)
        key = (loaded.folder, loaded.site, site.settings, stopped_numbers(loaded.problems), cases, mark)
        with self._lock:
            last = self._last
            if last is None or last[0] != key or not timedelta(0) <= loaded.now - last[1].now <= lately:
                resolved = resolve_horizon(site, loaded.problems, loaded.now)
                evening = plan_evening(site, resolved, loaded.now, what_stands(loaded.folder, site, loaded.now))
                self._last = last = key, evening
        return last[1]


AT_ONCE, LATELY = timedelta(0), timedelta(minutes=5)
LAST = LastEvening()


def try_words(folder: Path | str, changes: list[str], now: datetime | str, day: date | None = None) -> TryAnswer:
    """Try changes in words, all together. Raises WrongUse for a word that cannot be read or tried."""
    loaded, site = load_site(folder, now)
    edits = _read(site, changes, choose_day(site, loaded.now, day), loaded.now)
    return try_edits(LAST.plan(loaded, site, AT_ONCE), edits)


def try_on_plan(folder: Path, plan: Plan, changes: list[str], now: datetime) -> tuple[TryAnswer, Plan]:
    """As ``try_words`` on the day of a plan, with the plan as the changes would leave it, for the board.

    ``plan`` is one built from the folder as it is there. Whoever tries one change after the other gets them all on
    the evening as it was a few minutes ago. Raises WrongUse.
    """
    loaded, read = load_site(folder, now)
    site = read.with_settings(plan.settings)
    edits = _read(site, changes, plan.day, loaded.now)
    answer = try_edits(LAST.plan(loaded, site, LATELY), edits)
    return answer, change_plan(site, plan, answer.tried.cases, answer.tried.after, answer.clusters, answer.run)


def plan_ahead(folder: Path, plan: Plan, now: datetime) -> None:
    """Plan the evening on which changes of a plan will be tried, so that the first need not wait. Raises WrongUse."""
    loaded, read = load_site(folder, now)
    LAST.plan(loaded, read.with_settings(plan.settings), LATELY)


def _read(site: Site, changes: list[str], day: date, now: datetime) -> tuple[Edit, ...]:
    edits: list[Edit] = []
    wrong: list[Problem] = []
    for change in changes:
        edit, problems = read_edit(site, change, day)
        if problems:  # they repeat the words
            refuse_private({"the change": change}, now)
        wrong += problems
        edits += [edit] if edit else []
    if wrong:
        raise WrongUse("; ".join(problem.sentence() for problem in wrong))
    return tuple(edits)


def plan_evening(
    site: Site,
    resolved: tuple[tuple[Case, ...], tuple[CaseNeeds, ...]],
    now: datetime,
    stands: OnCarts = NOTHING_ON_CARTS,
) -> Evening:
    """Plan resolved cases, with the department's run and with what ``stands`` on carts and lists."""
    cases, needs = resolved
    site, uses, stopped = what_cases_want(site, cases, needs, stands, now)
    planned = make_planned_day(site, uses, now, stands.fixed, stands.printed, stopped=stopped)
    sets = compose(planned)
    run = run_department(site, sets.assignments, now)
    return Evening(
        site=site,
        now=now,
        planned=planned,
        sets=sets,
        run=run,
        conflicts=conflicts_in(add_queue(site, sets, now, run, relief=False)),
        chances=ChanceAfter(site, now, run) if site.settings.draws else None,
    )


def try_edits(evening: Evening, edits: tuple[Edit, ...]) -> TryAnswer:
    """Try edits on an evening. Raises WrongUse for an edit that names what is not there."""
    site, now, before = evening.site, evening.now, evening.conflicts
    try:
        tried = try_change(evening.planned, evening.sets, edits)
    except CannotTryError as cannot:
        raise WrongUse(_lacking(site, cannot)) from None
    again = run_again(site, tried.after.assignments, now, evening.run)
    clusters = add_queue(site, tried.after, now, again, relief=False)
    after, clock = conflicts_in(clusters), site.settings.site_clock
    tried = _told(tried, {one.id: one for one in before}, {one.id: one for one in after})
    notes = (*_notes(tried, clock), *_chances(evening, tried))
    return TryAnswer(
        tried=tried,
        before=before,
        after=after,
        clusters=clusters,
        run=again,
        notes=notes,
        lines=_lines(tried, notes, (len(before), len(after)), clock),
    )


def _lacking(site: Site, cannot: CannotTryError) -> str:
    """What an edit lacks; of a case that is cancelled or done, that."""
    status = {case.number: case.status for case in site.cases}.get(cannot.names[0])
    if cannot.lack is Lack.CASE and status is not None:
        return lacking(Lack.ENDED, cannot.names[0], status)
    return lacking(cannot.lack, *cannot.names)


def _told(tried: Tried, before: Mapping[str, Conflict], after: Mapping[str, Conflict]) -> Tried:
    """The same with what the department's queue makes late, before and after, and with the times in it."""
    both = [(before[key], one) for key, one in after.items() if key in before and one.kind is ConflictKind.QUEUE]
    worse = [*(one.id for one in tried.worse), *(now.id for was, now in both if now.minutes > was.minutes)]
    milder = [*(one.id for one in tried.milder), *(now.id for was, now in both if now.minutes < was.minutes)]
    return replace(
        tried,
        gone=tuple(one for key, one in before.items() if key not in after),
        new=tuple(one for key, one in after.items() if key not in before),
        worse=tuple(after[key] for key in worse),
        milder=tuple(after[key] for key in milder),
    )


def _chances(evening: Evening, tried: Tried) -> Iterator[str]:
    """What chance the changes leave to the sets whose conflicts they end, ease or make, as a remedy says it."""
    site, chances = evening.site, evening.chances
    if chances is None:
        return
    uses = {(one.set_id, one.waiter): one.waiter_use for plan in (tried.after, tried.before) for one in plan.reuses}
    told: set[str] = set()
    for one in (*tried.gone, *tried.milder, *tried.worse, *tried.new):
        queued = one.kind is ConflictKind.QUEUE
        use = uses.get((one.set_id, one.waiter), "") if queued else f"{one.waiter}/{one.tray}/{one.copy}"
        left = chances(tried.changed, use) if one.kind is not ConflictKind.RESERVE and use not in told else None
        if left is not None and left.usual < 1:
            told.add(use)
            yield chance_of_case(one.waiter, site.tray_name(one.tray), site.settings.draws, left)


def _notes(tried: Tried, clock: SiteClock) -> tuple[str, ...]:
    """Cases at new times, and steps that cannot be as fast as was asked."""
    return (
        *(moved_case(was, now, clock) for was, now in tried.moved),
        *(capped_step(one.set_id, one.step, one.usual, one.least) for one in tried.capped),
    )


def _lines(tried: Tried, notes: tuple[str, ...], numbers: tuple[int, int], clock: SiteClock) -> tuple[str, ...]:
    lines = [f"Conflicts: {numbers[0]} before, {numbers[1]} after. Nothing was written."]
    if tried.objection:
        lines.append(f"NOT ALLOWED: {forbidden(tried.objection)}")
    lines += notes
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


def _conflict(conflict: Conflict, clock: SiteClock) -> str:
    return f"{conflict.kind.value}, case {conflict.waiter}: {statement(conflict, clock)}"
