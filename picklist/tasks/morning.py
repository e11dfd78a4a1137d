"""The page for the morning: what is open at the end of the shift."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from picklist.documents.morning import write_morning
from picklist.documents.plan_json import plan_from_json
from picklist.evening.keep_plans import load_plan, newest_day
from picklist.evening.morning import OpenPoints, open_points
from picklist.evening.revise import what_is_known
from picklist.evening.state import State, state_path
from picklist.model.plan import Plan
from picklist.tasks.crew import opened_state
from picklist.tasks.errors import WrongUse


@dataclass(frozen=True, slots=True, kw_only=True)
class Morning:
    """What is open of which plan, and what to say of the printing."""

    plan: Plan
    points: OpenPoints
    notices: tuple[str, ...]


def print_morning(folder: Path, out: Path, now: datetime, day: date | None = None) -> Morning:
    """Print what is open at ``now`` (naive: the site's wall time) of a day's plan, the one built last unless named.

    Raises WrongUse when nothing was built, or ``out`` cannot be written.
    """
    if not state_path(folder).exists():
        raise WrongUse(f"no lists were built from {folder} yet; picklist build {folder} --out OUT does")
    with opened_state(folder) as state:
        plan = _plan(state, folder, day)
        known = what_is_known(state, plan.day)
    zone = ZoneInfo(plan.settings.time_zone)
    instant = (now if now.tzinfo else now.replace(tzinfo=zone)).astimezone(UTC)
    points = open_points(plan, known, instant)
    try:
        notices = write_morning(plan, points, out)
    except OSError as refused:
        raise WrongUse(f"{out} cannot be written: {refused.strerror}") from None
    return Morning(plan=plan, points=points, notices=notices)


def _plan(state: State, folder: Path, day: date | None) -> Plan:
    wanted = day or newest_day(state)
    stored = load_plan(state, wanted) if wanted else None
    if stored is None:
        which = f" for {day}" if day else ""
        raise WrongUse(f"no lists were built{which} yet; picklist build {folder} --out OUT does")
    return plan_from_json(stored.json)
