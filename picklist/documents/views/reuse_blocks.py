"""One set on its way from a case to the next: every step's latest start, or one row where time is plenty."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from picklist import wording
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.tray_rows import at_one_moment
from picklist.model.uses import Reuse
from picklist.wording.chances import late_in

WHOLE = 100  # per cent of a case's minutes


@dataclass(frozen=True, slots=True, kw_only=True)
class StepCell:
    """One moment of a reuse: latest start and last resort; ``day`` where it differs from the cell before."""

    act: str
    day: str
    latest: str
    last_resort: str
    past: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ReuseBlock:
    """One set with all its steps."""

    set_id: str
    tray: str
    source: str
    target: str
    expected: str
    slack: str
    loud: bool
    facts: tuple[str, ...]
    steps: tuple[StepCell, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LaterRow:
    """One set in a row: the first thing to do with it, and until when."""

    first_act: str
    first_by: str
    set_id: str
    tray: str
    source: str
    target: str
    slack: str


def source(found: Lookup, reuse: Reuse) -> str:
    """``from C-1041 in OR 3``, or what state the set is in now."""
    return f"from {found.case_in_room(reuse.giver)}" if reuse.giver else f"now {reuse.from_state}"


def target(found: Lookup, reuse: Reuse) -> str:
    """The case that waits, its room and start."""
    case = found.cases.get(reuse.waiter)
    return f"{found.case_in_room(reuse.waiter)}, {found.when(case.start)}" if case else reuse.waiter


def reuse_block(found: Lookup, reuse: Reuse) -> ReuseBlock:
    """A reuse with every step."""
    ready = found.headline(reuse)
    return ReuseBlock(
        set_id=reuse.set_id,
        tray=found.tray(reuse.tray),
        source=source(found, reuse),
        target=target(found, reuse),
        expected=found.ready(reuse),
        slack=wording.to_spare(ready.slack),
        loud=ready.slack < found.plan.settings.margin,
        facts=_facts(found, reuse),
        steps=_steps(found, reuse),
    )


def later_row(found: Lookup, reuse: Reuse) -> LaterRow:
    """A reuse in one row."""
    moments = at_one_moment(reuse.deadlines)
    act, first_by = (moments[0][0], found.clock.hhmm(moments[0][1].latest)) if moments else ("", wording.NONE)
    return LaterRow(
        first_act=act,
        first_by=first_by,
        set_id=reuse.set_id,
        tray=found.tray(reuse.tray),
        source=source(found, reuse),
        target=target(found, reuse),
        slack=found.spare(reuse),
    )


def _steps(found: Lookup, reuse: Reuse) -> tuple[StepCell, ...]:
    cells: list[StepCell] = []
    day: date = found.day
    for act, one in at_one_moment(reuse.deadlines):
        cells.append(
            StepCell(
                act=act,
                day=wording.short_day(own) if (own := found.clock.day(one.latest)) != day else "",
                latest=found.clock.hhmm(one.latest),
                last_resort=found.clock.hhmm(one.last_resort),
                past=one.latest < found.plan.now,
            )
        )
        day = own
    return tuple(cells)


def _facts(found: Lookup, reuse: Reuse) -> tuple[str, ...]:
    facts = [*_break_even(reuse)]
    if reuse.if_unopened_ready is not None:
        facts.append(f"free {found.when(reuse.if_unopened_ready)} if left unopened")
    if found.plan.chance is None:
        return tuple(facts)
    for one in found.plan.chance.reuses:
        if (one.set_id, one.giver, one.waiter) == (reuse.set_id, reuse.giver, reuse.waiter) and one.fails:
            late = f", at most {wording.span(round(one.late_p90))} late in 9 of 10" if one.late_p90 > 0 else ""
            pace, opened = found.headline(reuse).pace, reuse.hangs_on_opening
            said = late_in(found.plan.chance.draws, one.fails, one.fails_hurried, pace, if_opened=opened)
            facts.append(f"{said}{late}")
    return tuple(facts)


def _break_even(reuse: Reuse) -> tuple[str, ...]:
    """How much the giving case may overrun, where that is less than its own length."""
    if reuse.break_even is None or not reuse.giver or (reuse.break_even_percent or 0) > WHOLE:
        return ()
    if reuse.break_even <= 0:
        return (f"{reuse.giver} cannot overrun at all",)
    share = "" if reuse.break_even_percent is None else f" ({reuse.break_even_percent} % of its minutes)"
    return (f"{reuse.giver} may overrun by {wording.span(reuse.break_even)}{share}",)
