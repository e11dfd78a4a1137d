"""A folder for a new site: blank workbooks to fill in, or a made-up hospital to try picklist on."""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable
from datetime import date, datetime
from pathlib import Path

from picklist.problems import Problem
from picklist.tables.examples import demo_rows
from picklist.tables.json_schema import site_schema
from picklist.tables.reference import reference_page
from picklist.tasks.errors import WrongUse
from picklist.wording.next_steps import NextStep


def make_blank(folder: Path, now: datetime) -> tuple[Path, ...]:
    """Write blank workbooks with one example line each; give their paths. Raises WrongUse and OSError."""
    from picklist.tables.blank import write_blank  # takes long to load, and what is missing is asked without it

    _check_empty(folder)
    return write_blank(folder, now.date())


def make_demo(folder: Path, now: datetime) -> tuple[Path, ...]:
    """Write a made-up hospital whose cases are on the day after ``now``. Raises WrongUse and OSError."""
    from picklist.tables.write import write_tables  # as above

    _check_empty(folder)
    return write_tables(folder, demo_rows(now))


def describe_tables(*, as_json: bool = False) -> str:
    """A reference of all tables, their columns and what goes in; or a JSON schema of them, settings and forms."""
    return json.dumps(site_schema(), indent=1) if as_json else reference_page()


def _check_empty(folder: Path) -> None:
    if folder.exists() and (not folder.is_dir() or not has_no_files(folder)):
        raise WrongUse(f"{folder} exists and is not an empty folder; nothing was written")


def has_no_files(folder: Path) -> bool:
    """Whether a folder has no visible files."""
    return not any(not path.name.startswith(".") for path in folder.iterdir())


def next_step(folder: Path, problems: Iterable[Problem], days: Collection[date] | None) -> NextStep | None:
    """What a site needs before anything can be built; ``days`` are those with cases to come, None where not known."""
    if has_no_files(folder):
        return NextStep.NO_FILES
    missing = {one.where.sheet for one in problems if one.kind == "missing table"}
    if "Schedule" in missing:
        return NextStep.NO_SCHEDULE
    if "Cards" in missing:
        return NextStep.NO_CARDS
    return NextStep.NO_CASES if days is not None and not days else None
