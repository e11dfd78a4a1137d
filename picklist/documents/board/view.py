"""The whole board in finished strings and shares of its width."""

from __future__ import annotations

from collections.abc import Mapping

from picklist import wording
from picklist.clock import long_date, weekday
from picklist.documents.board.axis import ticks_of
from picklist.documents.board.decision_list import conflict_entries, conflict_leaves
from picklist.documents.board.detail_panels import case_leaves, tray_leaves
from picklist.documents.board.facts import fact_tables
from picklist.documents.board.index import BoardIndex
from picklist.documents.board.rooms import ROW, RoomRow, passes, room_rows
from picklist.documents.board.set_rows import tray_groups
from picklist.documents.board.stations import station_plots
from picklist.documents.views.conflict_sheet import CAUTION
from picklist.documents.views.evening_sheet import KindRow, by_kind, carts_counted
from picklist.documents.views.finished_words import View
from picklist.documents.views.stamp import not_counted, settings_lines, stamp_for
from picklist.model.known import NO_REPORTS, CartReport
from picklist.model.plan import Plan, RemedySearch
from picklist.wording.chances import what_is_drawn
from picklist.wording.say_remedies import NO_RISKS_YET, NOT_FINAL, while_sought

MOST_WAYS = 16  # of sets in trouble; where there are more, only those of what is open are drawn


class TimeScale(View):
    """The scale of the drawing: ``day_from`` and ``day_to`` are per cent, ``now`` too when it is on it."""

    def __init__(self, index: BoardIndex) -> None:
        axis, now = index.axis, index.plan.now
        self.ticks = ticks_of(axis)
        self.hours = axis.hours
        self.day_from = axis.at(axis.day_from)
        self.day_to = axis.at(axis.day_to)
        self.now = axis.at(now) if axis.holds(now) else None
        self.now_text = f"planned {index.found.when(now)}"


class BoardView(View):
    """What the page shows, from its head to its foot; ``reported`` says how far carts are, by case."""

    def __init__(self, plan: Plan, reported: Mapping[str, CartReport] = NO_REPORTS) -> None:
        index = BoardIndex(plan, reported)
        found = index.found
        self.title = f"Board, {found.clock.day_text(plan.day)}, {plan.settings.site}"
        self.weekday = weekday(plan.day)
        self.date = long_date(plan.day)
        self.stamp = stamp_for(plan)
        self.scale = TimeScale(index)
        self.kinds = tuple(KindRow(found, kind, some) for kind, some in by_kind(found).items())
        self.entries = conflict_entries(index)
        self.rooms = room_rows(index)
        self.counts = _counts(index, self.rooms)
        self.row = ROW
        self.lanes = sum(room.lanes for room in self.rooms)
        self.passes = passes(index, self.rooms)
        self.many_ways = sum(way.trouble for way in self.passes) > MOST_WAYS
        self.prefix = index.prefix
        self.groups = tray_groups(index)
        self.stations = station_plots(index)
        self.conflicts = conflict_leaves(index)
        self.cases = case_leaves(index)
        self.trays = tray_leaves(index)
        self.tables = fact_tables(index, self.entries)
        self.settings = settings_lines(plan.settings)
        self.chance_note = _chance_note(plan)
        self.caution = CAUTION
        self.any_reported = bool(reported)


def _counts(index: BoardIndex, rooms: tuple[RoomRow, ...]) -> str:
    parts = [
        wording.counted(len(index.carts), "case"),
        wording.counted(len(rooms), "room"),
        wording.counted(len(index.conflicts), "conflict"),
        f"{wording.counted(len(index.troubled), 'tray')} in trouble",
        *(carts_counted(index.found, index.reported) if index.reported else ()),
    ]
    not_final = while_sought(index.plan.search, NOT_FINAL)
    return wording.joined(", ".join(parts), not_counted(index.found), not_final, by=". ")


def _chance_note(plan: Plan) -> str:
    if plan.search is RemedySearch.GOING_ON:
        return NO_RISKS_YET
    if plan.chance is None:
        return "This plan has no risk estimate."
    return f"Risk: {' '.join(what_is_drawn(plan.chance))}"
