"""The page for the morning: what is open at the end of the shift."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from picklist.documents.plan_json import plan_from_json
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.morning_page import MorningView, since_rows
from picklist.evening.keep_plans import what_is_known
from picklist.evening.open_points import OpenPoints, open_points
from picklist.evening.since_built import SinceBuilt, since_built
from picklist.model.plan import Plan
from picklist.problems import Severity
from picklist.store.state import state_path
from picklist.tasks.beside_site import built_day, none_built
from picklist.tasks.errors import WrongUse, check_folder, opened_state
from picklist.tasks.moment import Meant, ask_if_meant, to_instant
from picklist.tasks.read_folder import load_folder
from picklist.tasks.targets import check_target, print_page


@dataclass(frozen=True, slots=True, kw_only=True)
class Morning:
    """What is open of which plan, and what to say of the printing."""

    plan: Plan
    points: OpenPoints
    notices: tuple[str, ...]


def print_morning(folder: Path, out: Path, now: datetime, day: date | None = None) -> Morning:
    """Print what is open at ``now`` (naive: the site's wall time) of a day's plan, the one built last unless named.

    The current schedule is looked at as well: carts of cases that are cancelled since are not counted.
    Raises WrongUse when nothing was built, or ``out`` cannot be written.
    """
    if not state_path(folder).exists():  # else the page is of what is kept, even where the folder cannot be reached
        check_folder(folder)
        raise none_built(folder)
    check_target(folder, out, (".pdf",))
    with opened_state(folder) as state:
        plan = built_day(state, folder, day)
        ask_if_meant(now, (plan.day,), plan.settings.site_clock)
        known = what_is_known(state, plan.day)
    points = open_points(plan, known, to_instant(now, plan.settings.time_zone), _since_built(folder, plan, now))
    view = MorningView(Lookup(plan), points)
    notices = print_page(folder, view, "morning", out, points.at, plan.settings.site_clock).notices
    said = tuple(f"{row.what}: {row.text}" for row in since_rows(Lookup(plan), points.since))
    return Morning(plan=plan, points=points, notices=(*said, *notices))


def _since_built(folder: Path, plan: Plan, now: datetime) -> SinceBuilt:
    """What became of the plan's cases since; where the folder cannot be read, why not."""
    try:
        loaded = load_folder(folder, Meant.of(now))
    except WrongUse as wrong:
        return SinceBuilt(not_seen=f"the folder cannot be read now ({wrong})")
    if loaded.site is None:
        why = next((p for p in loaded.problems if p.severity is Severity.STOPS_ALL), None)
        return SinceBuilt(
            not_seen="the folder cannot be read now" + (f" ({why.where}: {why.sentence()})" if why else "")
        )
    with opened_state(folder) as state:
        return since_built(state, plan, loaded.site, plan_from_json)
