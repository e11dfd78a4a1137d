"""Record what people decided about the evening's conflicts and shortages, and whom they told."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from picklist.documents.views.lookup import Lookup, look_up
from picklist.documents.views.open_list import Due, open_by_time
from picklist.evening.keep_decisions import (
    Decision,
    conflicts_by_key,
    decisions,
    moves_of,
    record_decision,
    short_items,
)
from picklist.evening.known import what_is_known
from picklist.evening.open_points import open_points
from picklist.model.plan import Plan
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
        conflicts, short, former = conflicts_by_key(plan), short_items(plan), decisions(state, day)
        known = (*conflicts, *short)
        if said.about not in known and said.about not in former:
            close = Candidates(iter(known)).nearest(said.about)
            hint = f"; did you mean {' or '.join(close)}?" if close else ""
            raise WrongUse(f"the lists of {day} have no conflict or shortage {said.about}{hint}")
        if not (said.decided or said.told or said.about in former):
            raise WrongUse("enter what was decided, or who was informed")
        was = former.get(said.about)
        remedies = conflicts[said.about].remedies if said.about in conflicts else ()
        edits = next((remedy.edits for remedy in remedies if remedy.text == said.decided), ())
        kept = was.moves if was and was.decided == said.decided else moves_of(plan, edits)
        decision = Decision(
            about=said.about,
            decided=said.decided,
            told=said.told,
            by=said.by,
            at=to_instant(now, plan.settings.time_zone),
            case_day=was.case_day if was else _day_of(plan, said.about),
            matter=matter_of(look_up(plan), said.about) or (was.matter if was else ""),
            moves=kept,
        )
        return record_decision(state, day, decision)


def matter_of(found: Lookup, about: str) -> str:
    """What a decision is about: kind, case and tray or item; empty for what the plan does not have."""
    conflict, short = conflicts_by_key(found.plan).get(about), short_items(found.plan).get(about)
    if conflict:
        return f"{conflict.kind.value.upper()}, {found.case_in_room(conflict.waiter)}: {found.tray(conflict.tray)}"
    return f"NO STOCK, {found.case_in_room(short.case)}: {short.name} ({short.item})" if short else ""


def _day_of(plan: Plan, about: str) -> date:
    """The day of the case that a matter is about."""
    conflict = conflicts_by_key(plan).get(about)
    days = {case.number: case.day for case in plan.cases}
    return days.get(conflict.waiter, plan.day) if conflict else plan.day


def open_now(folder: Path, plan: Plan, now: datetime) -> tuple[Due, ...]:
    """Everything that is open of a plan with the instant until which it helps to act, the soonest first.

    ``now`` naive is the site's wall time.
    """
    with opened_state(folder) as state:
        known = what_is_known(state, plan.day)
    return open_by_time(look_up(plan), open_points(plan, known, to_instant(now, plan.settings.time_zone)))


def decisions_told(folder: Path, day: date) -> Mapping[str, Decision]:
    """The last word on each conflict and shortage, by its key; none before the first build. Raises WrongUse."""
    if not state_path(folder).exists():
        return {}
    with opened_state(folder) as state:
        return decisions(state, day)
