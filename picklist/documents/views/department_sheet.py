"""The department's sheet: what each station must have started by when, and each reuse in order of deadline."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from picklist.documents.views import words
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.settings_lines import settings_lines
from picklist.documents.views.stamp import Stamp, printing_of, stamp_for
from picklist.documents.views.station_load import LoadPlot, LoadRow, RunRow, load_plots, load_rows, run_rows
from picklist.documents.views.tray_rows import in_order
from picklist.model.uses import Deadline, Reuse

NO_STATION = "Rooms, cooling and carts"
PAST = "PAST"


@dataclass(frozen=True, slots=True, kw_only=True)
class ActRow:
    """One act on one set at a station; ``past`` when its time was over at printing."""

    latest: str
    act: str
    set_id: str
    tray: str
    source: str
    target: str
    last_resort: str
    past: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class StationGroup:
    """What one station must start, in order of deadline."""

    title: str
    rows: tuple[ActRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StepCell:
    """One step of a reuse: latest start and the last resort."""

    act: str
    latest: str
    last_resort: str
    past: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ReuseBlock:
    """One set on its way from a case to the next."""

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
class DepartmentView:
    """The whole sheet; worklist, runs and plots stand only where the department was run forwards."""

    stamp: Stamp
    title: str
    counts: str
    stations: tuple[StationGroup, ...]
    reuses: tuple[ReuseBlock, ...]
    rule: str
    loads: tuple[LoadRow, ...]
    runs: tuple[RunRow, ...]
    plots: tuple[LoadPlot, ...]
    helps: tuple[str, ...]
    chance: str
    settings: tuple[tuple[str, str], ...]


def department_sheet(found: Lookup) -> DepartmentView:
    """All reuses that give to or take from a case of the day."""
    reuses = sorted((one for one in found.plan.reuses if _concerns_the_day(found, one)), key=_first_deadline)
    run, chance = found.plan.department, found.plan.chance
    return DepartmentView(
        stamp=stamp_for(found.plan, printing_of(found.plan), found.clock),
        title=f"Sets to turn around, {found.clock.day_text(found.day)}",
        counts=words.counted(len(reuses), "set") + " to turn around, in order of deadline",
        stations=_stations(found, reuses),
        reuses=tuple(_block(found, one) for one in reuses),
        rule=f"Served by: {run.rule}." if run else "",
        loads=load_rows(found, run) if run else (),
        runs=run_rows(found, run) if run else (),
        plots=load_plots(found, run) if run else (),
        helps=tuple(f"{one.text}: {words.per_cent(one.share_saved)} of the draws saved" for one in chance.helps)
        if chance
        else (),
        chance=f"{chance.draws} draws, seed {chance.seed}; {chance.spread_source}." if chance else "",
        settings=settings_lines(found.plan.settings),
    )


def _concerns_the_day(found: Lookup, reuse: Reuse) -> bool:
    days = [found.cases[case].day for case in (reuse.giver, reuse.waiter) if case in found.cases]
    return found.day in days or not days


def _first_deadline(reuse: Reuse) -> tuple[datetime, object]:
    first = min((one.latest for one in reuse.deadlines), default=reuse.needed)
    return (first, words.as_people_read(reuse.set_id))


def _stations(found: Lookup, reuses: list[Reuse]) -> tuple[StationGroup, ...]:
    acts = [(deadline, reuse) for reuse in reuses for deadline in reuse.deadlines]
    acts.sort(key=lambda pair: (pair[0].latest, words.as_people_read(pair[1].set_id)))
    groups: dict[str, list[ActRow]] = {}
    for deadline, reuse in acts:
        groups.setdefault(deadline.station or NO_STATION, []).append(_act(found, deadline, reuse))
    return tuple(StationGroup(title=station, rows=tuple(rows)) for station, rows in groups.items())


def _act(found: Lookup, deadline: Deadline, reuse: Reuse) -> ActRow:
    return ActRow(
        latest=found.when(deadline.latest),
        act=deadline.act,
        set_id=reuse.set_id,
        tray=found.tray(reuse.tray),
        source=_source(found, reuse),
        target=_target(found, reuse),
        last_resort=found.when(deadline.last_resort),
        past=deadline.latest < found.plan.now,
    )


def _source(found: Lookup, reuse: Reuse) -> str:
    return f"from {found.case_in_room(reuse.giver)}" if reuse.giver else f"now {reuse.from_state}"


def _target(found: Lookup, reuse: Reuse) -> str:
    case = found.cases.get(reuse.waiter)
    return f"{found.case_in_room(reuse.waiter)}, {found.when(case.start)}" if case else reuse.waiter


def _block(found: Lookup, reuse: Reuse) -> ReuseBlock:
    return ReuseBlock(
        set_id=reuse.set_id,
        tray=found.tray(reuse.tray),
        source=_source(found, reuse),
        target=_target(found, reuse),
        expected=found.when(reuse.ready),
        slack=words.to_spare(reuse.slack),
        loud=reuse.slack < found.plan.settings.margin,
        facts=_facts(found, reuse),
        steps=tuple(
            StepCell(
                act=one.act,
                latest=found.when(one.latest),
                last_resort=found.when(one.last_resort),
                past=one.latest < found.plan.now,
            )
            for one in in_order(reuse.deadlines)
        ),
    )


def _facts(found: Lookup, reuse: Reuse) -> tuple[str, ...]:
    facts = []
    if reuse.break_even is not None and reuse.giver and reuse.break_even <= 0:
        facts.append(f"{reuse.giver} may not overrun at all")
    elif reuse.break_even is not None and reuse.giver:
        share = "" if reuse.break_even_percent is None else f" ({reuse.break_even_percent} % of its minutes)"
        facts.append(f"{reuse.giver} may overrun by {words.span(reuse.break_even)}{share}")
    if reuse.if_unopened_ready is not None:
        facts.append(f"free {found.when(reuse.if_unopened_ready)} if it stays unopened")
    facts += [
        f"fails in {words.per_cent(one.fails)} of the draws, 9 in 10 are at most {words.span(round(one.late_p90))} late"
        for one in (found.plan.chance.reuses if found.plan.chance else ())
        if (one.set_id, one.giver, one.waiter) == (reuse.set_id, reuse.giver, reuse.waiter)
    ]
    return tuple(facts)
