"""Record what people decided about the evening's conflicts and shortages, and whom they told."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from picklist.evening.keep_decisions import Decision, conflicts_by_key, decisions, record_decision, short_items
from picklist.store.state import state_path
from picklist.tables.nearest import Candidates
from picklist.tasks.built_day import built_day
from picklist.tasks.crew import opened_state
from picklist.tasks.errors import WrongUse, refuse_private
from picklist.tasks.moment import to_instant


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What is said of a conflict or shortage: ``decided`` empty leaves it open, or opens it again."""

    about: str
    decided: str
    told: str
    by: str


def tell_decision(folder: Path, day: date, said: Said, now: datetime) -> Decision:
    """Keep what was decided and who was told. ``now`` naive is the site's wall time.

    Raises WrongUse when it is nobody's word, says nothing, or is about nothing in the newest plan of the day.
    """
    if not said.by.strip():
        raise WrongUse("enter who decided; initials are enough")
    refuse_private({"what was decided": said.decided, "who was informed": said.told, "who decided": said.by}, now)
    with opened_state(folder) as state:
        plan = built_day(state, folder, day)
        known = (*conflicts_by_key(plan), *short_items(plan))
        if said.about not in known:
            close = Candidates(iter(known)).nearest(said.about)
            hint = f"; did you mean {' or '.join(close)}?" if close else ""
            raise WrongUse(f"the lists of {day} have no conflict or shortage {said.about}{hint}")
        if not (said.decided or said.told or said.about in decisions(state, day)):
            raise WrongUse("enter what was decided, or who was informed")
        at = to_instant(now, plan.settings.time_zone)
        decision = Decision(about=said.about, decided=said.decided, told=said.told, by=said.by, at=at)
        record_decision(state, day, decision)
    return decision


def decisions_told(folder: Path, day: date) -> Mapping[str, Decision]:
    """The last word on each conflict and shortage, by its key; none before the first build. Raises WrongUse."""
    if not state_path(folder).exists():
        return {}
    with opened_state(folder) as state:
        return decisions(state, day)
