"""The whole board in finished strings and shares of its width."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from picklist import wording
from picklist.clock import long_date, weekday
from picklist.documents.board.axis import Tick, ticks_of
from picklist.documents.board.decision_list import (
    ConflictLeaf,
    DecisionLine,
    KindCount,
    conflict_entries,
    conflict_leaves,
    kind_counts,
)
from picklist.documents.board.detail_panels import CaseLeaf, TrayLeaf, case_leaves, tray_leaves
from picklist.documents.board.facts import FactTable, fact_tables
from picklist.documents.board.index import BoardIndex, index_plan
from picklist.documents.board.rooms import ROW, Pass, RoomRow, passes, room_rows
from picklist.documents.board.stations import StationPlot, station_plots
from picklist.documents.board.tray_groups import TrayGroup, tray_groups
from picklist.documents.views.conflict_sheet import CAUTION
from picklist.documents.views.evening_sheet import carts_counted
from picklist.documents.views.stamp import PageFoot, not_counted, settings_lines, stamp_for
from picklist.model.known import NO_REPORTS, CartReport
from picklist.model.plan import Plan, RemedySearch
from picklist.wording.chances import what_is_drawn
from picklist.wording.say_remedies import NO_RISKS_YET

MOST_WAYS = 16  # of sets in trouble; where there are more, only those of what is open are drawn


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeScale:
    """The scale of the drawing: ``day_from`` and ``day_to`` are per cent, ``now`` too when it is on it."""

    ticks: tuple[Tick, ...]
    hours: float
    day_from: float
    day_to: float
    now: float | None
    now_text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardView:
    """What the page shows, from its head to its foot."""

    title: str
    weekday: str
    date: str
    counts: str
    stamp: PageFoot
    scale: TimeScale
    kinds: tuple[KindCount, ...]
    entries: tuple[DecisionLine, ...]
    rooms: tuple[RoomRow, ...]
    row: int
    lanes: int
    passes: tuple[Pass, ...]
    many_ways: bool
    prefix: str
    groups: tuple[TrayGroup, ...]
    stations: tuple[StationPlot, ...]
    conflicts: tuple[ConflictLeaf, ...]
    cases: tuple[CaseLeaf, ...]
    trays: tuple[TrayLeaf, ...]
    tables: tuple[FactTable, ...]
    settings: tuple[tuple[str, str], ...]
    chance_note: str
    caution: str
    any_reported: bool


def board_view(plan: Plan, reported: Mapping[str, CartReport] = NO_REPORTS) -> BoardView:
    """Look at a plan from all sides of the board; ``reported`` says how far carts are, by case."""
    index = index_plan(plan, reported)
    found, rooms, entries = index.found, room_rows(index), conflict_entries(index)
    ways = passes(index, rooms)
    return BoardView(
        title=f"Board, {found.clock.day_text(plan.day)}, {plan.settings.site}",
        weekday=weekday(plan.day),
        date=long_date(plan.day),
        counts=_counts(index, rooms),
        stamp=stamp_for(plan),
        scale=_scale(index),
        kinds=kind_counts(index),
        entries=entries,
        rooms=rooms,
        row=ROW,
        lanes=sum(room.lanes for room in rooms),
        passes=ways,
        many_ways=sum(way.trouble for way in ways) > MOST_WAYS,
        prefix=index.prefix,
        groups=tray_groups(index),
        stations=station_plots(index),
        conflicts=conflict_leaves(index),
        cases=case_leaves(index),
        trays=tray_leaves(index),
        tables=fact_tables(index, entries),
        settings=settings_lines(plan.settings),
        chance_note=_chance_note(plan),
        caution=CAUTION,
        any_reported=bool(reported),
    )


def _counts(index: BoardIndex, rooms: tuple[RoomRow, ...]) -> str:
    parts = [
        wording.counted(len(index.carts), "case"),
        wording.counted(len(rooms), "room"),
        wording.counted(len(index.conflicts), "conflict"),
        f"{wording.counted(len(index.troubled), 'tray')} in trouble",
        *(carts_counted(index.found, index.reported) if index.reported else ()),
    ]
    return ". ".join(part for part in (", ".join(parts), not_counted(index.found)) if part)


def _scale(index: BoardIndex) -> TimeScale:
    axis, now = index.axis, index.plan.now
    return TimeScale(
        ticks=ticks_of(axis),
        hours=axis.hours,
        day_from=axis.at(axis.day_from),
        day_to=axis.at(axis.day_to),
        now=axis.at(now) if axis.holds(now) else None,
        now_text=f"planned {index.found.when(now)}",
    )


def _chance_note(plan: Plan) -> str:
    if plan.search is RemedySearch.GOING_ON:
        return NO_RISKS_YET
    if plan.chance is None:
        return "This plan has no risk estimate."
    return f"Risk: {' '.join(what_is_drawn(plan.chance))}"
