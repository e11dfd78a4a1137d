"""After the operations: what was used comes in, stock and sets follow, and the past speaks to the cards."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from picklist.evening.after_day import after_day
from picklist.evening.apply import apply_changes
from picklist.evening.keep_changes import log_changes
from picklist.evening.keep_facts import built_carts
from picklist.evening.keep_plans import lists_in_hand
from picklist.evening.keep_usage import record_usage, usage_history
from picklist.evening.suggest import LEAST_CASES, Suggestion, suggest
from picklist.evening.table_changes import DayChanges, DayFacts, TableChange
from picklist.evening.usage import UsageLine, read_usage
from picklist.problems import Problem, must_be_mended
from picklist.tasks.built_day import built_day
from picklist.tasks.crew import opened_state
from picklist.tasks.errors import WrongUse, refuse_private_name
from picklist.tasks.folder import load_site


@dataclass(frozen=True, slots=True, kw_only=True)
class Used:
    """What a filled form told, and what is wrong in it."""

    lines: tuple[UsageLine, ...]
    problems: tuple[Problem, ...]

    @property
    def exit_code(self) -> int:
        """0 when all was kept without anything to mend, else 1."""
        return int(must_be_mended(self.problems))


@dataclass(frozen=True, slots=True, kw_only=True)
class Settled:
    """What the day does to stock and sets; ``done`` are the cells that were written, none on a trial."""

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
        lines, problems = read_usage(form, built_day(state, folder, day), site)
        record_usage(state, lines, loaded.now, form.name)
    return Used(lines=lines, problems=problems)


def settle_day(folder: Path, day: date, now: datetime, *, write: bool) -> Settled:
    """What a day did to the rows of Lots and Sets, written into the site's files if asked to. Raises WrongUse."""
    loaded, site = load_site(folder, now)
    with opened_state(folder) as state:
        plan = built_day(state, folder, day)
        usage = [line for line in usage_history(state, day) if line.day == day]
        facts = DayFacts(built=built_carts(state, day), in_hand=lists_in_hand(state, day), usage=usage)
        changes = after_day(site, plan, facts, loaded.now)
        if not write:
            return Settled(changes=changes, done=(), problems=changes.problems)
        applied = apply_changes(folder, changes.all, loaded.now)
        log_changes(state, day, applied.done, loaded.now, applied=True)
    return Settled(
        changes=changes, done=applied.done, problems=(*changes.problems, *applied.problems), kept=applied.kept
    )


def suggest_changes(folder: Path, least_cases: int = LEAST_CASES) -> tuple[Suggestion, ...]:
    """What the usage told so far says about the cards. Raises WrongUse."""
    if not folder.is_dir():
        raise WrongUse(f"there is no folder {folder}")
    with opened_state(folder) as state:
        return suggest(usage_history(state), least_cases)
