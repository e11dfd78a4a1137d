"""After the operations: what was used comes in, stock and sets follow, and the past speaks to the cards."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from picklist.clock import SiteClock
from picklist.evening.after_day import after_day
from picklist.evening.keep_counted import load_counted, settled_before
from picklist.evening.keep_facts import built_carts
from picklist.evening.keep_plans import lists_in_hand
from picklist.evening.suggest import suggest
from picklist.evening.table_changes import DayChanges, DayFacts
from picklist.evening.usage import UsageLine, read_usage, record_usage, usage_history
from picklist.evening.write_tables import Writing, apply_changes
from picklist.model.known import TableChange
from picklist.model.plan import Plan
from picklist.model.site import Site
from picklist.model.suggestion import LEAST_CASES, Suggestion
from picklist.problems import Problem
from picklist.store.keep_forms import mark_taken
from picklist.store.lock import hold_tables
from picklist.store.state import StateFile
from picklist.tables.files import digest_now
from picklist.tables.folder import read_table_files
from picklist.tasks.beside_site import built_day
from picklist.tasks.errors import WrongUse, check_folder, opened_state, refusals, refuse_private_name
from picklist.tasks.read_folder import Loaded, finish_writes, load_site
from picklist.upkeep.approval import catch_up


@dataclass(frozen=True, slots=True, kw_only=True)
class Used:
    """What a filled form reported, and what is wrong in it."""

    lines: tuple[UsageLine, ...]
    problems: tuple[Problem, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """What the day does to stock and sets; ``done`` are the cells that were written, none on a trial."""

    clock: SiteClock
    changes: DayChanges
    done: tuple[TableChange, ...]
    problems: tuple[Problem, ...]
    kept: tuple[Path, ...] = ()


def tell_used(folder: Path, form: Path, day: date, now: datetime) -> Used:
    """Keep what was used on a day, from the form of its build or a CSV file. Raises WrongUse."""
    if not form.is_file():
        raise WrongUse(f"there is no file {form}")
    refuse_private_name(form)
    loaded, site = load_site(folder, now)
    with opened_state(folder) as state:
        return record_used(state, form, built_day(state, folder, day), site, loaded.now)


def record_used(state: StateFile, form: Path, plan: Plan, site: Site, now: datetime) -> Used:
    """Keep what a form says was used of a plan."""
    digest = digest_now(form)
    lines, problems = read_usage(form, plan, site)
    record_usage(state, lines, now, form.name)
    mark_taken(state, form.name, digest, now)
    return Used(lines=lines, problems=problems)


def settle_day(folder: Path, day: date, now: datetime, *, write: bool, seen: str = "") -> Settled:
    """What a day did to the rows of Lots and Sets beyond what was counted before, written if asked to.

    A case counts once, in whatever order its forms come in. ``seen`` is the mark of what somebody looked at
    before. Raises WrongUse, also when it would be something else by now; then nothing is written.
    """
    check_folder(folder)
    finished = finish_writes(folder)
    finished += catch_up(folder)
    if not write:
        with opened_state(folder) as state:
            loaded, site = load_site(folder, now)
            changes = _day_changes(state, loaded, site, day)
        return Settled(
            clock=site.settings.site_clock, changes=changes, done=(), problems=(*finished, *changes.problems)
        )
    with refusals(), hold_tables(folder), opened_state(folder) as state:
        files = read_table_files(folder)
        loaded, site = load_site(folder, now)
        changes = _day_changes(state, loaded, site, day)
        if seen and seen != mark_of(changes):
            raise WrongUse("the changes are no longer those you looked at; nothing was written. Look again")
        clock = site.settings.site_clock
        writing = Writing(day=day, now=loaded.now, stamp=clock.wall(loaded.now), files=files)
        applied = apply_changes(state, folder, changes.rows, writing)
    problems = (*finished, *changes.problems, *applied.problems)
    return Settled(clock=clock, changes=changes, done=applied.done, problems=problems, kept=applied.kept)


def mark_of(changes: DayChanges) -> str:
    """A mark that differs where the cells to be written do."""
    return hashlib.sha256(repr(changes.all).encode()).hexdigest()[:24]


def _day_changes(state: StateFile, loaded: Loaded, site: Site, day: date) -> DayChanges:
    """What is not counted yet of a day. Raises WrongUse for a day that an earlier version counted."""
    plan = built_day(state, loaded.folder, day)
    before = settled_before(state, day)
    if before is not None:
        clock = site.settings.site_clock
        raise WrongUse(
            f"{day} was settled on {clock.stamp(before)} by an earlier version, which did not remember what it "
            "counted; nothing is counted again, so correct the rows by hand"
        )
    usage = [line for line in usage_history(state, day) if line.day == day]
    facts = DayFacts(built=built_carts(state, day), in_hand=lists_in_hand(state, day), usage=usage)
    counts = {count.item for built in facts.built.values() for count in built.counts}
    taken = {one.set_id for built in facts.built.values() for one in built.sets}
    counted = load_counted(state, day, counts, {line.set_id for line in usage if line.set_id} | taken)
    return after_day(site, plan, facts, counted, loaded.now)


def suggest_changes(folder: Path, least_cases: int = LEAST_CASES) -> tuple[Suggestion, ...]:
    """What the usage reported so far says about the cards. Raises WrongUse."""
    check_folder(folder)
    with opened_state(folder) as state:
        return suggest(usage_history(state), least_cases)
