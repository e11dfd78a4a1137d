"""The sound site with one flaw each, as offices make them, and what must be said about it.

``expected`` are (kind, table or file, row, column) of all problems but notices; ``stops`` the
cases whose lists they stop; ``lost`` what is missing from the site afterwards.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

from openpyxl import load_workbook
from openpyxl.styles import Font

from tests.inputs.folders import DAY, Rows, write_site
from tests.tables.packages import alter_part, cut_short

Expected = tuple[str, str, int | None, str]


@dataclass(frozen=True, kw_only=True)
class Flaw:
    name: str
    expected: tuple[Expected, ...]
    rows: Callable[[Rows], None] | None = None
    folder: Callable[[Path], object] | None = None
    stops: tuple[str, ...] = ()
    stops_all: bool = False
    notices: tuple[str, ...] = ()
    nearest: tuple[str, ...] = ()
    lost: tuple[tuple[str, str], ...] = field(default=())

    def write(self, folder: Path) -> Path:
        write_site(folder, self.rows)
        if self.folder:
            self.folder(folder)
        return folder


def put(table: str, row: int, **cells: Any) -> Callable[[Rows], None]:
    """Fill cells of a row (the sheet's row number); underscores stand for spaces in headers."""

    def change(rows: Rows) -> None:
        rows[table][row - 2] |= {name.replace("_", " "): value for name, value in cells.items()}

    return change


def add(table: str, **cells: Any) -> Callable[[Rows], None]:
    def change(rows: Rows) -> None:
        rows.setdefault(table, []).append({name.replace("_", " "): value for name, value in cells.items()})

    return change


def both(*changes: Callable[[Rows], None]) -> Callable[[Rows], None]:
    def change(rows: Rows) -> None:
        for one in changes:
            one(rows)

    return change


def drop(table: str, row: int, *columns: str) -> Callable[[Rows], None]:
    def change(rows: Rows) -> None:
        for column in columns:
            rows[table][row - 2].pop(column, None)

    return change


def strike_a_remark(sheet: Any) -> None:
    """A column that the table does not have, and a text struck through in it."""
    column = sheet.max_column + 1
    sheet.cell(1, column, "telephoned by")
    sheet.cell(3, column, "R. Vane").font = Font(strike=True)


def in_sheet(book: str, sheet: str, change: Callable[[Any], object]) -> Callable[[Path], None]:
    """Change a sheet with a spreadsheet library, after the sound site was written."""

    def alter(folder: Path) -> None:
        workbook = load_workbook(folder / f"{book}.xlsx")
        change(workbook[sheet])
        workbook.save(folder / f"{book}.xlsx")

    return alter


def set_cell(ref: str, value: Any, data_type: str = "") -> Callable[[Any], None]:
    def change(sheet: Any) -> None:
        sheet[ref] = value
        if data_type:
            sheet[ref].data_type = data_type

    return change


def rename_header(old: str, new: str | None) -> Callable[[Any], None]:
    def change(sheet: Any) -> None:
        for cell in sheet[1]:
            if cell.value == old:
                cell.value = new

    return change


def plain_number(ref: str, number: int) -> Callable[[Any], None]:
    """A cell that is not formatted as a time."""

    def change(sheet: Any) -> None:
        sheet[ref].value, sheet[ref].number_format = number, "General"

    return change


def insert_row(row: int) -> Callable[[Any], None]:
    return lambda sheet: sheet.insert_rows(row)


def header_again(row: int) -> Callable[[Any], None]:
    def change(sheet: Any) -> None:
        sheet.insert_rows(row)
        for head in sheet[1]:
            sheet.cell(row, head.column, head.value)

    return change


def write_file(name: str, content: bytes) -> Callable[[Path], None]:
    def write(folder: Path) -> None:
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).write_bytes(content)

    return write


def each(*changes: Callable[[Any], object]) -> Callable[[Any], None]:
    """Several changes of a folder or a sheet, one after the other."""

    def change(what: Any) -> None:
        for one in changes:
            one(what)

    return change


def drop_time_zone(rows: Rows) -> None:
    rows["Settings"].pop()


def as_csv(table: str, text: str) -> Callable[[Path], None]:
    """Replace the schedule's workbook by a CSV file of that text."""

    def write(folder: Path) -> None:
        (folder / "schedule.xlsx").unlink()
        (folder / f"{table}.csv").write_text(text, encoding="utf-8")

    return write


SCHEDULE_HEAD = "case,day,room,start,minutes,surgeon,procedures,side\n"

CELLS = (
    Flaw(
        name="unknown surgeon with a slip",
        rows=put("Schedule", 2, surgeon="SO1"),
        expected=(("unknown id", "Schedule", 2, "surgeon"),),
        nearest=("S01",),
        stops=("C-1",),
    ),
    Flaw(
        name="surgeon by name instead of id",
        rows=put("Schedule", 2, surgeon="dr quill"),
        expected=(("unknown id", "Schedule", 2, "surgeon"),),
        nearest=("S01",),
        stops=("C-1",),
    ),
    Flaw(
        name="unknown procedure",
        rows=put("Schedule", 3, procedures=("HERNIA", "HERNAI")),
        expected=(("unknown id", "Schedule", 3, "procedures"),),
        nearest=("HERNIA",),
        stops=("C-2",),
    ),
    Flaw(
        name="unknown room",
        rows=put("Schedule", 3, room="OR 22"),
        expected=(("unknown id", "Schedule", 3, "room"),),
        nearest=("OR 2",),
        stops=("C-2",),
    ),
    Flaw(
        name="case without a number",
        rows=put("Schedule", 3, case=None),
        expected=(("empty cell", "Schedule", 3, "case"),),
        lost=(("cases", "C-2"),),
    ),
    Flaw(
        name="case without a start",
        rows=put("Schedule", 3, start=None),
        expected=(("empty cell", "Schedule", 3, "start"),),
        stops=("C-2",),
        lost=(("cases", "C-2"),),
    ),
    Flaw(
        name="case without minutes",
        rows=put("Schedule", 3, minutes=None),
        expected=(("empty cell", "Schedule", 3, "minutes"),),
        stops=("C-2",),
    ),
    Flaw(
        name="start past midnight",
        rows=put("Schedule", 3, start="25:30"),
        expected=(("past midnight", "Schedule", 3, "start"),),
        nearest=("01:30",),
        stops=("C-2",),
        lost=(("cases", "C-2"),),
    ),
    Flaw(
        name="minutes below zero",
        rows=put("Schedule", 3, minutes=-60),
        expected=(("below zero", "Schedule", 3, "minutes"),),
        stops=("C-2",),
    ),
    Flaw(
        name="minutes as a time",
        rows=put("Schedule", 3, minutes="1:30"),
        expected=(("time for number", "Schedule", 3, "minutes"),),
        nearest=("90",),
        stops=("C-2",),
    ),
    Flaw(
        name="side misspelled",
        rows=put("Schedule", 2, side="lfet"),
        expected=(("not a choice", "Schedule", 2, "side"),),
        nearest=("left",),
        stops=("C-1",),
    ),
    Flaw(
        name="a side of two misspelled",
        rows=put("Schedule", 2, procedures=("KNEE", "HERNIA"), side=("right", "lfet")),
        expected=(("not a choice", "Schedule", 2, "side"),),
        nearest=("left",),
        stops=("C-1",),
    ),
    Flaw(
        name="three sides for two procedures",
        rows=put("Schedule", 2, procedures=("KNEE", "HERNIA"), side=("right", "left", "left")),
        expected=(("sides and procedures", "Schedule", 2, "side"),),
        stops=("C-1",),
    ),
    Flaw(
        name="two sides for one procedure",
        rows=put("Schedule", 2, side="right; left"),
        expected=(("sides and procedures", "Schedule", 2, "side"),),
        stops=("C-1",),
    ),
    Flaw(
        name="the first of two sides left out",
        rows=put("Schedule", 2, procedures=("KNEE", "HERNIA"), side="; left"),
        expected=(("left out", "Schedule", 2, "side"),),
        stops=("C-1",),
    ),
    Flaw(
        name="day in two orders",
        rows=both(put("Schedule", 2, day="11/26/2026"), put("Schedule", 3, day="26/11/2026")),
        expected=(("two date orders", "Schedule", 2, "day"), ("two date orders", "Schedule", 3, "day")),
        stops=("C-1", "C-2"),
        lost=(("cases", "C-1"), ("cases", "C-2")),
    ),
    Flaw(
        name="day that can be read in two ways",
        rows=put("Schedule", 2, day="11/12/2026"),
        expected=(("ambiguous date", "Schedule", 2, "day"),),
        nearest=("2026-12-11", "2026-11-12"),
        stops=("C-1",),
        lost=(("cases", "C-1"),),
    ),
    Flaw(
        name="order of dates settled by a setting",
        rows=both(
            put("Schedule", 2, day="11/26/2026"),
            put("Schedule", 3, day="12/11/2026"),
            add("Settings", setting="date order", value="month first"),
        ),
        expected=(),
    ),
    Flaw(
        name="day against the order that the setting names",
        rows=both(put("Schedule", 2, day="26/11/2026"), add("Settings", setting="date order", value="month first")),
        expected=(("no such day", "Schedule", 2, "day"),),
        stops=("C-1",),
        lost=(("cases", "C-1"),),
    ),
    Flaw(
        name="hour that the clock skips",
        # in Chicago the clock goes from 02:00 to 03:00 on 14 March 2027
        rows=put("Schedule", 2, day=date(2027, 3, 14), start=time(2, 30)),
        expected=(("no such hour", "Schedule", 2, "start"),),
        nearest=("03:00",),
        stops=("C-1",),
    ),
    Flaw(
        name="hour that comes twice",
        # and back from 02:00 to 01:00 on 1 November 2026
        rows=put("Schedule", 2, day=date(2026, 11, 1), start=time(1, 30)),
        expected=(),
        notices=("hour comes twice",),
    ),
    Flaw(
        name="case number twice",
        rows=put("Schedule", 3, case="c-1"),
        expected=(("doubled key", "Schedule", 3, "case"),),
        stops=("C-1",),
        lost=(("cases", "C-2"),),
    ),
    Flaw(
        name="record number in the notes",
        rows=put("Schedule", 2, notes="MRN 1234567"),
        expected=(("private text", "Schedule", 2, "notes"),),
    ),
    Flaw(
        name="date of birth in the notes",
        rows=put("Schedule", 2, notes="Smith 3/4/1957"),
        expected=(("private text", "Schedule", 2, "notes"),),
    ),
    Flaw(
        name="name among the alerts",
        rows=put("Schedule", 2, alerts=("latex", "patient Smith")),
        expected=(("private text", "Schedule", 2, "alerts"),),
        stops=("C-1",),
    ),
    Flaw(
        name="item number that lost its zeros",
        rows=both(
            add("Items", item="000245", name="Drape"),
            add("Cards", procedure="HERNIA", kind="item", thing="245", open=1),
        ),
        expected=(("unknown id", "Cards", 7, "thing"),),
        nearest=("000245",),
        stops=("C-2",),
    ),
)

CARDS = (
    Flaw(
        name="card for an unknown item",
        rows=put("Cards", 6, thing="100020"),
        expected=(("unknown id", "Cards", 6, "thing"),),
        nearest=("100002",),
        stops=("C-2",),
    ),
    Flaw(
        name="card of another surgeon stops nobody",
        rows=add("Cards", procedure="HERNIA", surgeon="S01", kind="item", thing="1", open=1),
        expected=(("unknown id", "Cards", 7, "thing"),),
    ),
    Flaw(
        name="card for an unknown procedure stops those that it may be meant for",
        rows=put("Cards", 6, procedure="HERNA"),
        expected=(("unknown id", "Cards", 6, "procedure"),),
        nearest=("HERNIA",),
        stops=("C-2",),
    ),
    Flaw(
        name="line for every case that cannot be read stops every case",
        rows=add("Cards", procedure="every", surgeon="every", kind="item", thing="100001", open="two"),
        expected=(("not a number", "Cards", 7, "open"),),
        stops=("C-1", "C-2"),
    ),
    Flaw(
        name="pending line that cannot be read stops nobody",
        rows=add("Cards", procedure="HERNIA", kind="item", thing="1", open=1, approved=False),
        expected=(("unknown id", "Cards", 7, "thing"),),
    ),
    Flaw(
        name="line that ended before the case stops nobody",
        rows=add("Cards", procedure="HERNIA", kind="item", thing="1", open=1, until=date(2026, 11, 25)),
        expected=(("unknown id", "Cards", 7, "thing"),),
    ),
    Flaw(
        name="tray called an item",
        rows=put("Cards", 5, kind="item"),
        expected=(("other kind", "Cards", 5, "kind"),),
        nearest=("tray",),
        stops=("C-2",),
    ),
    Flaw(
        name="line without a quantity",
        rows=put("Cards", 6, open=0),
        expected=(("no quantity", "Cards", 6, "open"),),
        stops=("C-2",),
    ),
    Flaw(
        name="open below zero",
        rows=put("Cards", 6, open=-1),
        expected=(("below zero", "Cards", 6, "open"),),
        stops=("C-2",),
    ),
    Flaw(
        name="line that ends before it begins",
        rows=both(put("Cards", 6, until=date(2026, 1, 1)), put("Cards", 6, **{"from": date(2026, 2, 1)})),
        expected=(("ends before it begins", "Cards", 6, "until"),),
    ),
    Flaw(
        name="instead of without replace",
        rows=put("Cards", 6, instead_of="100001"),
        expected=(("instead without replace", "Cards", 6, "instead of"),),
        stops=("C-2",),
    ),
    Flaw(
        name="condition misspelled",
        rows=put("Cards", 6, only_if="alret latex"),
        expected=(("not a condition", "Cards", 6, "only if"),),
        nearest=("alert latex",),
        stops=("C-2",),
    ),
    Flaw(
        name="condition close to latex",
        rows=put("Cards", 6, only_if="not alert latx"),
        expected=(("near word", "Cards", 6, "only if"),),
        nearest=("not alert latex",),
        stops=("C-2",),
    ),
    Flaw(
        name="condition close to a usual size",
        rows=put("Cards", 6, only_if="size chld"),
        expected=(("near word", "Cards", 6, "only if"),),
        nearest=("size child",),
        stops=("C-2",),
    ),
    Flaw(
        name="condition close to that of other lines",
        rows=both(
            put("Cards", 2, only_if="alert metal"),
            put("Cards", 3, only_if="not alert Metal"),
            put("Cards", 6, only_if="alert metall"),
        ),
        expected=(("near word", "Cards", 6, "only if"),),
        nearest=("metal",),
        stops=("C-2",),
    ),
    Flaw(
        name="alert close to latex",
        rows=put("Schedule", 2, alerts=("isolation", "Latx allergy")),
        expected=(("near word", "Schedule", 2, "alerts"),),
        nearest=("latex",),
        stops=("C-1",),
    ),
    Flaw(
        name="alert shortened",
        rows=both(put("Schedule", 2, alerts=("ltx",)), put("Schedule", 3, alerts=("l\u00e1tx",))),
        expected=(("near word", "Schedule", 2, "alerts"), ("near word", "Schedule", 3, "alerts")),
        nearest=("latex",),
        stops=("C-1", "C-2"),
    ),
    Flaw(
        name="alert close to that of a card",
        rows=both(put("Cards", 6, only_if="alert metal"), put("Schedule", 3, alerts=("metal implant",))),
        expected=(("near word", "Schedule", 3, "alerts"),),
        nearest=("metal",),
        stops=("C-2",),
    ),
    Flaw(
        name="patient size misspelled",
        rows=put("Schedule", 2, patient_size="chld"),
        expected=(("near word", "Schedule", 2, "patient size"),),
        nearest=("child",),
        stops=("C-1",),
    ),
    Flaw(
        name="patient size in other words than the cards'",
        rows=both(
            put("Cards", 6, only_if="not size child"),
            put("Schedule", 2, patient_size="Pediatric"),
            put("Schedule", 3, patient_size="children"),
        ),
        expected=(("near word", "Schedule", 2, "patient size"), ("near word", "Schedule", 3, "patient size")),
        nearest=("child",),
        stops=("C-1", "C-2"),
    ),
    Flaw(
        name="patient size close to that of a set",
        rows=both(put("Sets", 2, size="infant"), put("Schedule", 3, patient_size="infnat")),
        expected=(("near word", "Schedule", 3, "patient size"),),
        nearest=("infant",),
        stops=("C-2",),
    ),
    Flaw(
        name="two faults in one line are both told",
        rows=put("Cards", 6, change="ad", open="two"),
        expected=(("not a choice", "Cards", 6, "change"), ("not a number", "Cards", 6, "open")),
        stops=("C-2",),
    ),
)

MASTER = (
    Flaw(
        name="tray without a route",
        rows=put("Trays", 3, route=None),
        expected=(("empty cell", "Trays", 3, "route"),),
        stops=("C-2",),
        lost=(("trays", "T-BASIC"), ("sets", "BASIC-01")),
    ),
    Flaw(
        name="tray on an unknown route",
        rows=put("Trays", 3, route="STEEM"),
        expected=(("unknown id", "Trays", 3, "route"),),
        nearest=("STEAM",),
        stops=("C-2",),
        lost=(("trays", "T-BASIC"),),
    ),
    Flaw(
        name="route without minutes",
        rows=both(
            *(put("Routes", row, usual_minutes=0, least_minutes=0) for row in (2, 3, 4)),
        ),
        expected=(("route without minutes", "Routes", 2, "usual minutes"),),
        stops=("C-1", "C-2"),
        lost=(("routes", "STEAM"), ("trays", "T-KNEE")),
    ),
    Flaw(
        name="route in a circle",
        rows=put("Routes", 2, after=("cool",)),
        expected=(("circular route", "Routes", 2, "after"),),
        stops=("C-1", "C-2"),
        lost=(("routes", "STEAM"),),
    ),
    Flaw(
        name="step after an unknown step",
        rows=put("Routes", 4, after=("steem",)),
        expected=(("unknown step", "Routes", 4, "after"),),
        nearest=("steam",),
        stops=("C-1", "C-2"),
        lost=(("routes", "STEAM"),),
    ),
    Flaw(
        name="least minutes above the usual",
        rows=put("Routes", 4, usual_minutes=20),
        expected=(("usual below least", "Routes", 4, "usual minutes"),),
    ),
    Flaw(
        name="step at an unknown station",
        rows=put("Routes", 2, station="washer"),
        expected=(("unknown id", "Routes", 2, "station"),),
        nearest=("washers",),
        stops=("C-1", "C-2"),
        lost=(("routes", "STEAM"),),
    ),
    Flaw(
        name="run without departures",
        rows=put("Routes", 4, run="van"),
        expected=(("unknown id", "Routes", 4, "run"),),
        stops=("C-1", "C-2"),
        lost=(("routes", "STEAM"),),
    ),
    Flaw(
        name="station whose only hours cannot be read",
        rows=put("Hours", 2, to="25:00"),
        expected=(("past midnight", "Hours", 2, "to"),),
        nearest=("01:00",),
        stops=("C-1", "C-2"),
        lost=(("stations", "washers"), ("routes", "STEAM")),
    ),
    Flaw(
        name="station with one of two rows of hours unreadable keeps the other",
        rows=add("Hours", station="washers", weekday="Sonday", **{"from": time(8, 0), "to": time(12, 0)}),
        expected=(("not a weekday", "Hours", 3, "weekday"),),
        nearest=("Mon", "Sun"),
    ),
    Flaw(
        name="set at a step that its route lacks",
        rows=put("Sets", 3, step="steem"),
        expected=(("step not in route", "Sets", 3, "step"),),
        nearest=("steam",),
        lost=(("sets", "BASIC-01"),),
    ),
    Flaw(
        name="set at a step without since when",
        rows=put("Sets", 3, step_since=None),
        expected=(("state incomplete", "Sets", 3, "step since"),),
        lost=(("sets", "BASIC-01"),),
    ),
    Flaw(
        name="set at a step since a time without a day",
        rows=put("Sets", 3, step_since="16:30"),
        expected=(("no day", "Sets", 3, "step since"),),
        lost=(("sets", "BASIC-01"),),
    ),
    Flaw(
        name="set in two places",
        rows=add("Sets", set="KNEE-01", tray="T-KNEE", place="A-02"),
        expected=(("set in two places", "Sets", 4, "set"),),
        lost=(("sets", "KNEE-01"),),
    ),
    Flaw(
        name="set in use in no case",
        rows=put("Sets", 2, state="in use"),
        expected=(("state incomplete", "Sets", 2, "in case"),),
        lost=(("sets", "KNEE-01"),),
    ),
    Flaw(
        name="set in use in an unknown case",
        rows=put("Sets", 2, state="in use", in_case="C-11"),
        expected=(("unknown id", "Sets", 2, "in case"),),
        nearest=("C-1",),
        lost=(("sets", "KNEE-01"),),
    ),
    Flaw(
        name="set of a sided tray without a side",
        rows=put("Trays", 2, sided=True),
        expected=(("set without side", "Sets", 2, "side"),),
    ),
    Flaw(
        name="set back at an hour that the clock skips",
        rows=put("Sets", 3, state="away", step=None, step_since=None, back_at=datetime(2027, 3, 14, 2, 30)),  # noqa: DTZ001
        expected=(("no such hour", "Sets", 3, "back at"),),
        nearest=("03:00",),
        lost=(("sets", "BASIC-01"),),
    ),
    Flaw(
        name="set in an unknown place is kept",
        rows=put("Sets", 2, place="A-11"),
        expected=(("unknown id", "Sets", 2, "place"),),
        nearest=("A-01",),
    ),
    Flaw(
        name="tray that stands in for itself",
        rows=put("Trays", 2, **{"stand-ins": ("T-KNEE",)}),
        expected=(("stands in for itself", "Trays", 2, "stand-ins"),),
    ),
    Flaw(
        name="stand-in that is unknown",
        rows=put("Trays", 2, **{"stand-ins": ("T-BASIK",)}),
        expected=(("unknown id", "Trays", 2, "stand-ins"),),
        nearest=("T-BASIC",),
    ),
    Flaw(
        name="item twice",
        rows=add("Items", item="100001", name="Another"),
        expected=(("doubled key", "Items", 8, "item"),),
    ),
    Flaw(
        name="item of an unknown class stops the cases that use it",
        rows=put("Items", 3, **{"class": "suply"}),
        expected=(("not a choice", "Items", 3, "class"),),
        nearest=("supply",),
        stops=("C-2",),
        lost=(("items", "100002"),),
    ),
    Flaw(
        name="item with an unknown latex-free twin",
        rows=put("Items", 3, **{"latex-free twin": "9"}),
        expected=(("unknown id", "Items", 3, "latex-free twin"),),
        stops=("C-2",),
        lost=(("items", "100002"),),
    ),
    Flaw(
        name="unknown substitute",
        rows=put("Items", 3, **{"stand-ins": ("100011",)}),
        expected=(("unknown id", "Items", 3, "stand-ins"),),
        nearest=("100001",),
    ),
    Flaw(
        name="pack of an unknown item",
        rows=put("Packs", 2, item="100033"),
        expected=(("unknown id", "Packs", 2, "item"),),
        nearest=("100003",),
    ),
    Flaw(
        name="procedure with an unknown pack stops its cases",
        rows=put("Procedures", 2, pack="PK-2"),
        expected=(("unknown id", "Procedures", 2, "pack"),),
        nearest=("PK-1",),
        stops=("C-1",),
        lost=(("procedures", "KNEE"),),
    ),
    Flaw(
        name="surgeon whose glove size became a date stops that surgeon's cases",
        rows=put("Staff", 3, outer_glove=date(2026, 7, 8)),
        folder=in_sheet("site", "Staff", set_cell("D3", date(2026, 7, 8))),
        expected=(("turned into date", "Staff", 3, "outer glove"),),
        stops=("C-2",),
        lost=(("staff", "S02"),),
    ),
    Flaw(
        name="lot in another unit",
        rows=put("Lots", 2, unit="box"),
        expected=(("unit mismatch", "Lots", 2, "unit"),),
        lost=(("lots", "L1"),),
    ),
    Flaw(
        name="lot of unknown expiry",
        rows=put("Lots", 2, expiry="2027-13"),
        expected=(("not a date", "Lots", 2, "expiry"),),
        lost=(("lots", "L1"),),
    ),
    Flaw(
        name="lot twice",
        rows=add("Lots", item="100001", lot="l1", quantity=5, place="A-01"),
        expected=(("doubled key", "Lots", 4, "lot"),),
    ),
    Flaw(
        name="weight in kilograms",
        rows=put("Trays", 2, weight_lb="8 kg"),
        expected=(("unit in number", "Trays", 2, "weight lb"),),
        nearest=("17.6",),
    ),
    Flaw(
        name="unknown time zone",
        rows=put("Settings", 3, value="America/Chigaco"),
        expected=(("unknown time zone", "Settings", 3, "value"),),
        nearest=("America/Chicago",),
        stops_all=True,
    ),
    Flaw(
        name="time zone without summer time",
        rows=put("Settings", 3, value="EST"),
        expected=(("zone without summer time", "Settings", 3, "value"),),
        nearest=("America/New_York", "America/Panama"),
    ),
    Flaw(
        name="time zone by a word",
        rows=put("Settings", 3, value="Chicago"),
        expected=(("unknown time zone", "Settings", 3, "value"),),
        nearest=("America/Chicago",),
        stops_all=True,
    ),
    Flaw(
        name="no time zone",
        rows=drop_time_zone,
        expected=(("missing setting", "Settings", None, ""),),
        stops_all=True,
    ),
    Flaw(
        name="unknown setting",
        rows=add("Settings", setting="set up led", value="30"),
        expected=(("unknown setting", "Settings", 4, "setting"),),
        nearest=("setup lead",),
    ),
    Flaw(
        name="setting out of bounds",
        rows=add("Settings", setting="setup lead", value="-5"),
        expected=(("below zero", "Settings", 4, "value"),),
    ),
    Flaw(
        name="setting twice",
        rows=add("Settings", setting="Site", value="Another Hospital"),
        expected=(("doubled key", "Settings", 4, "setting"),),
    ),
    Flaw(
        name="holiday of an unknown station",
        rows=add("Holidays", day=DAY, station="washer"),
        expected=(("unknown id", "Holidays", 2, "station"),),
        nearest=("washers",),
    ),
    Flaw(
        name="holiday on no day",
        rows=add("Holidays", day="Thanksgiving", station="washers"),
        expected=(("not a date", "Holidays", 2, "day"),),
    ),
    Flaw(
        name="card line of a misspelled every",
        rows=put("Cards", 4, surgeon="evry"),
        expected=(("unknown id", "Cards", 4, "surgeon"),),
        nearest=("every",),
        stops=("C-1",),
    ),
    Flaw(
        name="card line of a dash for its surgeon",
        rows=put("Cards", 5, surgeon="-"),
        expected=(("unknown id", "Cards", 5, "surgeon"),),
        stops=("C-2",),
    ),
    Flaw(
        name="side with a question mark",
        rows=put("Schedule", 2, side="left?"),
        expected=(("not a choice", "Schedule", 2, "side"),),
        nearest=("left",),
        stops=("C-1",),
    ),
    Flaw(
        name="expiry with a question mark",
        rows=put("Lots", 2, expiry="never?"),
        expected=(("not a date", "Lots", 2, "expiry"),),
        nearest=("never",),
        lost=(("lots", "L1"),),
    ),
    Flaw(
        name="start that a formula took from an empty cell",
        folder=in_sheet("schedule", "Schedule", plain_number("D2", 0)),
        expected=(("not a time", "Schedule", 2, "start"),),
        nearest=("00:00",),
        stops=("C-1",),
    ),
    Flaw(
        name="time zone that is this computer's own",
        rows=put("Settings", 3, value="localtime"),
        expected=(("unknown time zone", "Settings", 3, "value"),),
        stops_all=True,
    ),
    Flaw(
        name="time zone for when none is set",
        rows=put("Settings", 3, value="Factory"),
        expected=(("unknown time zone", "Settings", 3, "value"),),
        stops_all=True,
    ),
    Flaw(
        name="way between buildings twice",
        rows=both(
            add("Transfers", from_building="Main", to_building="Annex", minutes=20),
            add("Transfers", from_building="main", to_building="annex", minutes=30),
        ),
        expected=(("doubled key", "Transfers", 3, "to building"),),
    ),
    Flaw(
        name="departure on no weekday",
        rows=both(
            add("Departures", run="van", weekday="Mon", time=time(9, 0)),
            add("Departures", run="van", weekday="Someday", time=time(13, 0)),
        ),
        expected=(("not a weekday", "Departures", 3, "weekday"),),
    ),
    Flaw(
        name="instrument twice in a tray",
        rows=add("Tray contents", tray="T-KNEE", instrument="needle holder", quantity=1),
        expected=(("doubled key", "Tray contents", 3, "instrument"),),
    ),
    Flaw(
        name="station without machines breaks its routes",
        rows=put("Stations", 2, machines=0),
        expected=(("too small", "Stations", 2, "machines"),),
        stops=("C-1", "C-2"),
        lost=(("stations", "washers"), ("routes", "STEAM")),
    ),
    Flaw(
        name="step twice in a route",
        rows=add("Routes", route="STEAM", step="Wash", usual_minutes=1, least_minutes=1),
        expected=(("doubled key", "Routes", 5, "step"),),
        stops=("C-1", "C-2"),
        lost=(("routes", "STEAM"),),
    ),
    Flaw(
        name="past case of an unknown procedure",
        rows=add("Past cases", procedure="HERNAI", surgeon="S99", planned_minutes=60, actual_minutes=70),
        expected=(("unknown id", "Past cases", 2, "procedure"),),
        nearest=("HERNIA",),
    ),
    Flaw(
        name="past case whose actual start has another month than the planned one",
        rows=add(
            "Past cases",
            procedure="HERNIA",
            surgeon="S99",
            planned_minutes=60,
            actual_minutes=70,
            planned_start="2026-11-03 07:30",
            actual_start="2026-03-11 07:40",
        ),
        expected=(("far apart", "Past cases", 2, "actual start"),),
    ),
)

SHEETS = (
    Flaw(
        name="schedule of a quiet day",
        rows=lambda rows: rows["Schedule"].clear(),
        expected=(),
        notices=("no rows",),
    ),
    Flaw(
        name="lots without a row",
        rows=lambda rows: rows["Lots"].clear(),
        expected=(("no rows", "Lots", None, ""),),
    ),
    Flaw(
        name="sheet without anything in it",
        folder=in_sheet("schedule", "Schedule", lambda sheet: sheet.parent.create_sheet("Transfers")),
        expected=(),
    ),
    Flaw(
        name="workbook with macros",
        folder=lambda folder: (folder / "schedule.xlsx").rename(folder / "schedule.xlsm"),
        expected=(),
    ),
    Flaw(
        name="error value in a cell",
        folder=in_sheet("schedule", "Schedule", set_cell("F3", "#N/A", "e")),
        expected=(("error value", "Schedule", 3, "surgeon"),),
        stops=("C-2",),
    ),
    Flaw(
        name="formula with no stored value",
        folder=in_sheet("schedule", "Schedule", set_cell("E3", "=30*2")),
        expected=(("no stored value", "Schedule", 3, "minutes"),),
        stops=("C-2",),
    ),
    Flaw(
        name="merged cells",
        folder=in_sheet("schedule", "Schedule", lambda sheet: sheet.merge_cells("C2:C3")),
        expected=(("merged cell", "Schedule", 2, "room"),),
        stops=("C-1", "C-2"),
        lost=(("cases", "C-1"), ("cases", "C-2")),
    ),
    Flaw(
        name="hidden row",
        folder=in_sheet("schedule", "Schedule", lambda sheet: setattr(sheet.row_dimensions[3], "hidden", True)),
        expected=(("hidden rows", "Schedule", None, ""),),
    ),
    Flaw(
        name="name turned into a date",
        folder=in_sheet("trays", "Trays", set_cell("B2", date(2026, 2, 1))),
        expected=(("text turned into date", "Trays", 2, "name"),),
    ),
    Flaw(
        name="note turned into a date",
        folder=in_sheet("cards", "Cards", set_cell("O2", date(2027, 2, 1))),
        expected=(("text turned into date", "Cards", 2, "note"),),
    ),
    Flaw(
        name="case struck through",
        folder=in_sheet("schedule", "Schedule", lambda sheet: setattr(sheet["A3"], "font", Font(strike=True))),
        expected=(("rows struck through", "Schedule", None, ""),),
    ),
    Flaw(
        name="what is struck through in a column that is not read",
        folder=in_sheet("schedule", "Schedule", strike_a_remark),
        expected=(),
        notices=("columns not read",),
    ),
    Flaw(
        name="hidden column",
        folder=in_sheet("schedule", "Schedule", lambda sheet: setattr(sheet.column_dimensions["H"], "hidden", True)),
        expected=(),
        notices=("hidden columns",),
    ),
    Flaw(
        name="hidden sheet",
        folder=in_sheet("trays", "Sets", lambda sheet: setattr(sheet, "sheet_state", "hidden")),
        expected=(),
        notices=("hidden sheet",),
    ),
    Flaw(
        name="empty rows in the middle",
        folder=in_sheet("schedule", "Schedule", lambda sheet: sheet.insert_rows(3, 2)),
        expected=(),
        notices=("empty rows",),
    ),
    Flaw(
        name="every second row empty",
        folder=in_sheet("supplies", "Items", each(*(insert_row(row) for row in (3, 5, 7)))),
        expected=(),
        notices=("empty rows",),
    ),
    Flaw(
        name="header again on each printed page",
        folder=in_sheet("supplies", "Items", header_again(4)),
        expected=(),
        notices=("header again",),
    ),
    Flaw(
        name="title above the header",
        folder=in_sheet(
            "schedule", "Schedule", each(lambda sheet: sheet.insert_rows(1, 3), set_cell("A1", "Thursday's cases"))
        ),
        expected=(),
    ),
    Flaw(
        name="no header",
        folder=in_sheet("schedule", "Schedule", lambda sheet: sheet.delete_rows(1)),
        expected=(("no header", "Schedule", None, ""),),
        stops_all=True,
    ),
    Flaw(
        name="column twice",
        folder=in_sheet("schedule", "Schedule", set_cell("Q1", "Room")),
        expected=(("doubled column", "Schedule", 1, "room"),),
        stops_all=True,
    ),
    Flaw(
        name="optional column twice stops the cases",
        folder=in_sheet("schedule", "Schedule", set_cell("Q1", "SIDE")),
        expected=(("doubled column", "Schedule", 1, "side"),),
        stops=("C-1", "C-2"),
    ),
    Flaw(
        name="needed column misspelled",
        folder=in_sheet("schedule", "Schedule", rename_header("surgeon", "surgoen")),
        expected=(("missing column", "Schedule", 1, "surgeon"),),
        stops_all=True,
    ),
    Flaw(
        name="column shortened in another way",
        folder=in_sheet("supplies", "Lots", rename_header("expiry", "exp date")),
        expected=(("unknown column", "Lots", 1, ""),),
        nearest=("expiry",),
    ),
    Flaw(
        name="one column for open and hold",
        folder=in_sheet("cards", "Cards", each(rename_header("open", "Qty"), rename_header("hold", "held"))),
        expected=(
            ("unknown column", "Cards", 1, ""),
            ("unknown column", "Cards", 1, ""),
            ("missing column", "Cards", 1, "open"),
            ("missing column", "Cards", 1, "hold"),
        ),
        nearest=("open",),
        stops=("C-1", "C-2"),
    ),
    Flaw(
        name="column for a substitute's twin with a word left out",
        folder=in_sheet("supplies", "Items", rename_header("latex-free twin", "Latex free")),
        expected=(("unknown column", "Items", 1, ""),),
        nearest=("latex-free twin",),
    ),
    Flaw(
        name="slip in the column of the patient's size",
        folder=in_sheet("schedule", "Schedule", rename_header("patient size", "patient siez")),
        expected=(("unknown column", "Schedule", 1, ""),),
        nearest=("patient size",),
    ),
    Flaw(
        name="header lost above filled cells",
        folder=in_sheet("supplies", "Lots", rename_header("expiry", None)),
        expected=(("no header above cells", "Lots", 1, ""),),
        nearest=("expiry",),
    ),
    Flaw(
        name="header of a needed column lost above filled cells",
        folder=in_sheet("schedule", "Schedule", rename_header("surgeon", None)),
        expected=(("missing column", "Schedule", 1, "surgeon"),),
        stops_all=True,
    ),
    Flaw(
        name="cells beside the table",
        folder=in_sheet("supplies", "Lots", set_cell("K3", "see the list on the door")),
        expected=(("no header above cells", "Lots", 1, ""),),
    ),
    Flaw(
        name="column misspelled",
        folder=in_sheet("cards", "Cards", rename_header("until", "untill")),
        expected=(("unknown column", "Cards", 1, ""),),
        nearest=("until",),
    ),
    Flaw(
        name="column in another unit",
        folder=in_sheet("trays", "Trays", rename_header("weight lb", "weight (kg)")),
        expected=(("other unit", "Trays", 1, ""),),
    ),
    Flaw(
        name="columns about the patient",
        folder=in_sheet(
            "schedule",
            "Schedule",
            each(set_cell("Q1", "Patient"), set_cell("Q2", "Jane Doe")),
        ),
        expected=(),
        notices=("columns not read",),
    ),
    Flaw(
        name="sheet misspelled",
        folder=in_sheet("supplies", "Packs", lambda sheet: setattr(sheet, "title", "Pakcs")),
        expected=(("unknown sheet", "no. 2", None, ""),),
        stops=("C-1",),
        lost=(("packs", "PK-1"),),
    ),
    Flaw(
        name="sheet of somebody's own",
        folder=in_sheet("schedule", "Schedule", lambda sheet: sheet.parent.create_sheet("Scratch")),
        expected=(),
        notices=("sheet not read",),
    ),
)

FILES = (
    Flaw(
        name="workbook cut short",
        folder=lambda folder: cut_short(folder / "schedule.xlsx"),
        expected=(("truncated", "schedule.xlsx", None, ""), ("missing table", "Schedule", None, "")),
        stops_all=True,
    ),
    Flaw(
        name="workbook behind a password",
        folder=write_file("schedule.xlsx", bytes.fromhex("d0cf11e0a1b11ae1") + "EncryptedPackage".encode("utf-16-le")),
        expected=(("encrypted", "schedule.xlsx", None, ""), ("missing table", "Schedule", None, "")),
        stops_all=True,
    ),
    Flaw(
        name="web page with the ending of a workbook",
        folder=write_file("schedule.xlsx", b"<html><table></table></html>"),
        expected=(("not a workbook", "schedule.xlsx", None, ""), ("missing table", "Schedule", None, "")),
        stops_all=True,
    ),
    Flaw(
        name="old workbook beside the others",
        folder=write_file("cards old.xls", bytes.fromhex("d0cf11e0a1b11ae1")),
        expected=(("old format", "cards old.xls", None, ""),),
    ),
    Flaw(
        name="sound workbook with the ending of the old format",
        folder=lambda folder: (folder / "supplies.xlsx").rename(folder / "supplies.xls"),
        expected=(),
        notices=("other ending",),
    ),
    Flaw(
        name="lock file, hidden file and sub-folder are passed over",
        folder=each(
            write_file("~$schedule.xlsx", b"x"), write_file(".hidden.xlsx", b"x"), write_file("old/schedule.xlsx", b"x")
        ),
        expected=(),
    ),
    Flaw(
        name="file of another kind",
        folder=write_file("notes.pdf", b"%PDF"),
        expected=(),
        notices=("file not read",),
    ),
    Flaw(
        name="csv of no table",
        folder=write_file("Tray content.csv", b"tray,instrument,quantity\n"),
        expected=(("unknown file", "Tray content.csv", None, ""),),
        nearest=("Tray contents",),
    ),
    Flaw(
        name="the same table in two files",
        folder=write_file("Schedule.csv", f"{SCHEDULE_HEAD}C-3,2026-11-26,OR 1,10:00,60,S01,HERNIA,none\n".encode()),
        expected=(),
        notices=("table in several files",),
    ),
    Flaw(
        name="the same case in two files",
        folder=write_file("Schedule.csv", f"{SCHEDULE_HEAD}C-1,2026-11-26,OR 1,10:00,60,S01,HERNIA,none\n".encode()),
        expected=(("doubled key", "Schedule", 2, "case"),),
        notices=("table in several files",),
        stops=("C-1",),
    ),
    Flaw(
        name="csv row with too many cells",
        folder=as_csv(
            "Schedule",
            f"{SCHEDULE_HEAD}C-1,2026-11-26,OR 1,07:30,90,S01,KNEE,left\n"
            "C-2,2026-11-26,OR 2,08:00,60,S02,HERNIA,none,or so\n",
        ),
        expected=(("ragged row", "Schedule.csv", 3, ""),),
        stops=("C-2",),
    ),
    Flaw(
        name="csv rows with too few cells are read",
        folder=as_csv("Schedule", f"{SCHEDULE_HEAD}C-1,2026-11-26,OR 1,07:30,90,S01,KNEE,left\nC-2,2026-11-26\n"),
        expected=tuple(
            ("empty cell", "Schedule.csv", 3, column)
            for column in ("room", "start", "minutes", "surgeon", "procedures")
        ),
        stops=("C-2",),
        lost=(("cases", "C-2"),),
    ),
    Flaw(
        name="csv in the encoding of Windows",
        folder=each(
            as_csv("Schedule", ""),
            write_file(
                "Schedule.csv",
                (
                    f"{SCHEDULE_HEAD}C-1,2026-11-26,OR 1,07:30,90,S01,KNEE,left\n"
                    "Ç-2,2026-11-26,OR 2,08:00,60,S02,HERNIA,none\n"
                ).encode("cp1252"),
            ),
        ),
        expected=(),
        notices=("encoding",),
    ),
    Flaw(
        name="export whose only sheet has a name of its own",
        folder=in_sheet("schedule", "Schedule", lambda sheet: setattr(sheet, "title", "Export 1")),
        expected=(),
        notices=("sheet by file name",),
    ),
    Flaw(
        name="sheet whose XML is broken",
        folder=lambda folder: alter_part(
            folder / "schedule.xlsx", "xl/worksheets/sheet1.xml", lambda xml: xml.replace("</row>", "", 1) + '<f t="e"'
        ),
        expected=(("truncated", "schedule.xlsx", None, ""), ("missing table", "Schedule", None, "")),
        stops_all=True,
    ),
)

FLAWS: tuple[Flaw, ...] = CELLS + CARDS + MASTER + SHEETS + FILES
