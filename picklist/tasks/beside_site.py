"""What the state beside a site's folder says of the plans that were built, and of the next build."""

from __future__ import annotations

from contextlib import suppress
from datetime import date, datetime
from pathlib import Path

from picklist.documents.plan_json import plan_from_json
from picklist.evening.keep_plans import latest_revision, listed_starts, newest_day
from picklist.evening.revise import Schedule, plan_kept, standing_on_other_days
from picklist.model.plan import Plan
from picklist.model.site import Site
from picklist.plan import OnCarts, horizon_cases
from picklist.store.state import StateFile, state_path
from picklist.tasks.errors import WrongUse, as_typed, opened_state
from picklist.tasks.read_folder import Loaded, planned_days


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


def built_day(state: StateFile, folder: Path, day: date | None) -> Plan:
    """The newest plan of a day, the day built last unless one is named.

    Raises WrongUse when there is none, or it cannot be read.
    """
    wanted = day or newest_day(state)
    if wanted is None or latest_revision(state, wanted) is None:
        raise none_built(folder, day)
    plan = plan_kept(state, wanted, plan_from_json)
    if plan is None:
        raise WrongUse(
            f"the plan kept of {wanted} cannot be read: it is of another version of picklist, or damaged. Build "
            f"that day again: picklist build {as_typed(folder)} --day {wanted} --out OUT"
        )
    return plan


def none_built(folder: Path, day: date | None = None) -> WrongUse:
    """That there are no lists yet, and how to build them."""
    which = f" for {day}" if day else ""
    return WrongUse(f"no lists were built{which} yet; run picklist build {as_typed(folder)} --out OUT")
