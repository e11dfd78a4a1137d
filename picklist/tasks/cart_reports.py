"""What is known of a day's carts: the crew's reports, which list counts for each, and what was put back."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date, datetime
from pathlib import Path

from picklist.evening.keep_facts import mark_put_back
from picklist.evening.keep_plans import put_backs, what_is_known
from picklist.model.known import NOTHING_KNOWN, Known, PutBack
from picklist.store.state import StateFile, state_path
from picklist.tasks.beside_site import built_day
from picklist.tasks.errors import WrongUse, opened_state, refuse_private
from picklist.tasks.moment import to_instant
from picklist.tasks.read_folder import load_site


def carts_told(folder: Path, day: date) -> Known:
    """Read from the state beside the folder; nothing is known before the first build. Raises WrongUse."""
    if not state_path(folder).exists():
        return NOTHING_KNOWN
    with opened_state(folder) as state:
        return what_is_known(state, day)


def tell_put_back(folder: Path, day: date, ids: Collection[int], by: str, now: datetime) -> int:
    """Keep that these were put back, and by whom; how many were still open. ``now`` naive is the site's wall time.

    Raises WrongUse when nobody says it, or a number is not one to put back on that day.
    """
    if not by.strip():
        raise WrongUse("enter who put it back; initials are enough")
    refuse_private({"who put it back": by}, now)
    with opened_state(folder) as state:
        _check(state, day, ids)
        zone = built_day(state, folder, day).settings.time_zone
        return mark_put_back(state, ids, to_instant(now, zone), by)


def take_back_put_back(folder: Path, day: date, ids: Collection[int]) -> int:
    """Open put-backs again that were reported done by mistake; how many were done. Raises WrongUse."""
    with opened_state(folder) as state:
        _check(state, day, ids)
        return mark_put_back(state, ids, None)


def put_backs_told(folder: Path, day: date) -> tuple[PutBack, ...]:
    """All that is or was to be put back; nothing before the first build. Raises WrongUse."""
    if not state_path(folder).exists():
        return ()
    with opened_state(folder) as state:
        return put_backs(state, day)


def thing_names(folder: Path, now: datetime) -> dict[str, str]:
    """The names of all items and packs of the site, for those that no list names; none while it cannot be read."""
    try:
        _, site = load_site(folder, now)
    except WrongUse:
        return {}
    return {one.id: one.name for one in site.items.values()} | {one.id: one.name for one in site.packs.values()}


def _check(state: StateFile, day: date, ids: Collection[int]) -> None:
    if not ids:
        raise WrongUse("choose what was put back")
    if not {one.id for one in put_backs(state, day)}.issuperset(ids):
        raise WrongUse(f"this is not among the items to put back on {day}")
