"""The newest plan of a day as the state keeps it."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from picklist.documents.plan_json import plan_from_json
from picklist.evening.keep_plans import load_plan, newest_day
from picklist.model.plan import Plan
from picklist.store.state import State
from picklist.tasks.errors import WrongUse


def built_day(state: State, folder: Path, day: date | None) -> Plan:
    """The newest plan of a day, the day built last unless one is named. Raises WrongUse when there is none."""
    wanted = day or newest_day(state)
    stored = load_plan(state, wanted) if wanted else None
    if stored is None:
        which = f" for {day}" if day else ""
        raise WrongUse(f"no lists were built{which} yet; run picklist build {folder} --out OUT")
    return plan_from_json(stored.json)
