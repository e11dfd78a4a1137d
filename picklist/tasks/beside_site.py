"""The state beside a site's folder, as tasks open it, and what it says of the next build."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import date, datetime
from pathlib import Path

from picklist.evening.keep_plans import listed_starts
from picklist.evening.revise import Schedule, standing_on_other_days
from picklist.model.site import Site
from picklist.plan import OnCarts, horizon_cases
from picklist.store.state import StateFile, open_state, state_path
from picklist.store.state_errors import StateError
from picklist.tasks.errors import WrongUse, check_folder
from picklist.tasks.read_folder import Loaded, planned_days

PATIENCE = 90.0  # seconds to wait for another writer: a build holds the state while it prints


@contextmanager
def opened_state(folder: Path) -> Iterator[StateFile]:
    """The state beside a folder; what it refuses becomes a wrong use with the same words.

    None is made beside a folder that is not there, as when its name is mistyped.
    """
    if not state_path(folder).exists():
        check_folder(folder)
    try:
        with open_state(state_path(folder), patience=PATIENCE) as state:
            yield state
    except StateError as refused:
        raise WrongUse(str(refused)) from None


def what_stands(folder: Path, site: Site, now: datetime) -> OnCarts:
    """What is on carts and printed lists of any day, where the next build would leave it. Raises WrongUse."""
    if not state_path(folder).exists():
        return OnCarts()
    with opened_state(folder) as state:
        schedule = Schedule.of(site, horizon_cases(site, now))
        return standing_on_other_days(state, schedule, site.settings.site_clock, now)


def days_to_build(loaded: Loaded) -> tuple[date, ...]:
    """The days of a schedule that can be built, also those that are wholly cancelled after lists were printed.

    Those with cases alone where the state file cannot be read; the build itself will say so.
    """
    if loaded.site is None:
        return ()
    if state_path(loaded.folder).exists():
        with suppress(WrongUse), opened_state(loaded.folder) as state:
            listed = listed_starts(state, loaded.site.settings.site_clock.day(loaded.now))
            return planned_days(loaded.site, listed)
    return planned_days(loaded.site)


def write_mark(folder: Path) -> bytes:
    """A few bytes that change with every write to the state beside a folder; empty before the first.

    The count of writes in the head of the file (https://sqlite.org/fileformat2.html, 1.3.7): no lock, no query.
    """
    try:
        with state_path(folder).open("rb") as file:
            return file.read(28)[24:]
    except OSError:
        return b""
