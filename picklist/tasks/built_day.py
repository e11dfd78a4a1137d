"""The newest plan of a day as the state keeps it."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from picklist.documents.plan_json import plan_from_json
from picklist.evening.keep_plans import latest_revision, newest_day
from picklist.evening.revise import plan_kept
from picklist.model.plan import Plan
from picklist.store.state import StateFile
from picklist.tasks.errors import WrongUse, as_typed


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
