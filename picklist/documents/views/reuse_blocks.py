"""One set on its way from a case to the next: every step's latest start, or one row where time is plenty."""

from __future__ import annotations

from datetime import date

from picklist import wording
from picklist.documents.views.finished_words import View
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.tray_rows import at_one_moment
from picklist.model.uses import Deadline, Reuse
from picklist.wording.say_conflicts import overrun_words

WHOLE = 100  # per cent of a case's minutes


class StepCell(View):
    """One moment of a reuse: latest start and last resort.

    ``day`` where it differs from the cell ``before``, ``resort_day`` where the last resort is on another one.
    """

    def __init__(self, found: Lookup, act: str, one: Deadline, before: date) -> None:
        day, resort_day = found.clock.day(one.latest), found.clock.day(one.last_resort)
        self.act = act
        self.day = wording.short_day(day) if day != before else ""
        self.latest = found.clock.hhmm(one.latest)
        self.resort_day = wording.short_day(resort_day) if resort_day != day else ""
        self.last_resort = found.clock.hhmm(one.last_resort)
        self.past = one.latest < found.plan.now


class ReuseBlock(View):
    """One set with all its steps."""

    def __init__(self, found: Lookup, reuse: Reuse) -> None:
        ready = found.headline(reuse)
        self.set_id = reuse.set_id
        self.tray = found.tray(reuse.tray)
        self.source = source(found, reuse)
        self.target = target(found, reuse)
        self.expected = found.ready(reuse)
        self.slack = wording.to_spare(ready.slack)
        self.loud = ready.slack < found.plan.settings.margin
        self.facts = _facts(found, reuse)
        self.steps = _steps(found, reuse)


class LaterRow(View):
    """One set in a row: the first thing to do with it, and until when."""

    def __init__(self, found: Lookup, reuse: Reuse) -> None:
        moments = at_one_moment(reuse.deadlines)
        act, first_by = (moments[0][0], found.clock.hhmm(moments[0][1].latest)) if moments else ("", wording.NONE)
        self.first_act = act
        self.first_by = first_by
        self.set_id = reuse.set_id
        self.tray = found.tray(reuse.tray)
        self.source = source(found, reuse)
        self.target = target(found, reuse)
        self.slack = found.spare(reuse)


def source(found: Lookup, reuse: Reuse) -> str:
    """``from C-1041 in OR 3``, or what state the set is in now."""
    return f"from {found.case_in_room(reuse.giver)}" if reuse.giver else f"now {reuse.from_state}"


def target(found: Lookup, reuse: Reuse) -> str:
    """The case that waits, its room and start."""
    case = found.cases.get(reuse.waiter)
    return f"{found.case_in_room(reuse.waiter)}, {found.when(case.start)}" if case else reuse.waiter


def _steps(found: Lookup, reuse: Reuse) -> tuple[StepCell, ...]:
    moments = at_one_moment(reuse.deadlines)
    days = [found.day, *(found.clock.day(one.latest) for _, one in moments)]
    return tuple(StepCell(found, act, one, before) for (act, one), before in zip(moments, days, strict=False))


def _facts(found: Lookup, reuse: Reuse) -> tuple[str, ...]:
    plenty = (reuse.break_even_percent or 0) > WHOLE  # it may last more than twice its time: nothing to know
    facts = [said] if not plenty and (said := overrun_words(reuse)) else []
    if reuse.if_unopened_ready is not None:
        facts.append(f"free {found.when(reuse.if_unopened_ready)} if left unopened")
    chance = found.chances.get((reuse.set_id, reuse.waiter))
    if chance and chance.fails:
        late = f", at most {wording.span(round(chance.late_p90))} late in 9 of 10" if chance.late_p90 > 0 else ""
        facts.append(f"{found.risk(reuse)}{late}")
    return tuple(facts)
