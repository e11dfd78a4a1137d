"""A folder for a new site: blank workbooks to fill in, or a made-up hospital to try picklist on."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from picklist.tables.blank import write_blank
from picklist.tables.demo_site import write_demo_site
from picklist.tasks.errors import WrongUse


def make_blank(folder: Path, now: datetime) -> tuple[Path, ...]:
    """Write blank workbooks with one example line each; give their paths. Raises WrongUse and OSError."""
    _check_empty(folder)
    return write_blank(folder, now.date())


def make_demo(folder: Path, now: datetime) -> tuple[Path, ...]:
    """Write a made-up hospital whose cases are on the day after ``now``. Raises WrongUse and OSError."""
    _check_empty(folder)
    return write_demo_site(folder, now)


def _check_empty(folder: Path) -> None:
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise WrongUse(f"{folder} exists and is not an empty folder; nothing was written")
