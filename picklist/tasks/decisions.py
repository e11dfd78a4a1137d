"""Record what people decided about the evening's conflicts and shortages, and whom they informed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path

from picklist.clock import SiteClock
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.open_list import Due, open_by_time
from picklist.evening.crew_workbook import last_time
from picklist.evening.keep_decisions import decisions, moves_of, record_decision
from picklist.evening.keep_plans import first_made, what_is_known
from picklist.evening.open_points import open_points
from picklist.model.known import Decision, conflicts_by_key, short_items
from picklist.model.plan import Plan
from picklist.problems import did_you_mean
from picklist.store.state import StateFile
from picklist.tables.columns import CellType, Column
from picklist.tables.nearest import Candidates
from picklist.tables.parse_times import parse_stamp_text, parse_time_cell
from picklist.tasks.beside_site import built_day
from picklist.tasks.errors import WrongUse, opened_state, refuse_private
from picklist.tasks.moment import to_instant
from picklist.wording import say_decisions as words

TOLD_AT = Column(name="informed at", type=CellType.TIME, help="when somebody was informed")
HALF_DAY = timedelta(hours=12)


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What is said of a conflict or shortage: ``decided`` empty leaves it open, or opens it again.

    ``told_at`` is when ``told`` was informed, as it was typed; empty for now.
    """

    about: str
    decided: str
    told: str
    by: str
    told_at: str = ""


def tell_decision(folder: Path, day: date, said: Said, now: datetime) -> Decision:
    """Keep what was decided and who was informed. ``now`` naive is the site's wall time.

    Raises WrongUse when it is nobody's word, says nothing, is about nothing in the newest plan of the day, or
    says that somebody was informed in the future or before the matter was on the lists.
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
            hint = did_you_mean(close)
            raise WrongUse(f"the lists of {day} have no conflict or shortage {said.about}{hint}")
        if not (said.decided or said.told or said.about in former):
            raise WrongUse("enter what was decided, or who was informed")
        was, at = former.get(said.about), to_instant(now, plan.settings.time_zone)
        remedies = conflicts[said.about].remedies if said.about in conflicts else ()
        edits = next((remedy.edits for remedy in remedies if remedy.text == said.decided), ())
        kept = was.moves if was and was.decided == said.decided else moves_of(plan, edits)
        decision = Decision(
            about=said.about,
            decided=said.decided,
            told=said.told,
            by=said.by,
            at=at,
            told_at=_told_at(said, plan.settings.site_clock, _known_since(state, day, was), at),
            case_day=was.case_day if was else _day_of(plan, said.about),
            matter=matter_of(Lookup(plan), said.about) or (was.matter if was else ""),
            moves=kept,
        )
        return record_decision(state, day, decision)


def _known_since(state: StateFile, day: date, was: Decision | None) -> datetime | None:
    """Since when people can have known of a matter: the first lists of the day, or what was said of it before."""
    moments = (first_made(state, day), was and (was.told_at or was.at))
    return min((one for one in moments if one), default=None)


def _told_at(said: Said, clock: SiteClock, since: datetime | None, now: datetime) -> datetime | None:
    """The moment that was typed, the last one of that time of day; None where none was. Raises WrongUse."""
    typed = said.told_at.strip()
    if not typed:
        return None
    stamp, no_stamp = parse_stamp_text(typed)
    wall, no_time = parse_time_cell(TOLD_AT, typed)
    if no_stamp and no_time:  # it could be anything
        refuse_private({"when somebody was informed": typed}, now)
    if not said.told:
        raise WrongUse(words.told_nobody(typed))
    now, first = _to_minute(now), _to_minute(since or now)
    if no_stamp is None:
        meant = today = clock.at_or_after(stamp.date(), stamp.time())
    elif no_time is None:
        meant, today = last_time(clock, wall, now), clock.at_or_after(clock.day(now), wall)
    else:
        raise WrongUse(words.told_no_time(typed, no_time.expected, no_time.nearest))
    if first <= meant <= now:
        return meant
    near = _to_type(clock, _nearest(first, now, today), now)
    if today > now:
        raise WrongUse(words.told_in_the_future(typed, clock.hhmm(now), near))
    raise WrongUse(words.told_before_the_lists(typed, clock.stamp(first), near))


def _nearest(first: datetime, now: datetime, meant: datetime) -> datetime:
    """The nearest moment that can be meant: in the other half of the day, where pm was left out, else a limit."""
    halves = (one for one in (meant + HALF_DAY, meant - HALF_DAY) if first <= one <= now)
    return next(halves, now if meant > now else first)


def _to_type(clock: SiteClock, moment: datetime, now: datetime) -> str:
    """A moment as it can be typed again: its time, with the day where the time alone would mean another one."""
    if last_time(clock, clock.wall(moment).time(), now) == moment:
        return clock.hhmm(moment)
    return f"{clock.day_text(clock.day(moment))} {clock.hhmm(moment)}"


def _to_minute(moment: datetime) -> datetime:
    return moment.replace(second=0, microsecond=0)


def matter_of(found: Lookup, about: str) -> str:
    """What a decision is about: kind, case and tray or item; empty for what the plan does not have."""
    conflict, short = conflicts_by_key(found.plan).get(about), short_items(found.plan).get(about)
    if conflict:
        return f"{conflict.kind.value.upper()}, {found.case_in_room(conflict.waiter)}: {found.tray_wanted(conflict)}"
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
    return open_by_time(Lookup(plan), open_points(plan, known, to_instant(now, plan.settings.time_zone)))
