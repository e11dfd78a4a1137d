"""An evening of three cases, small enough to be spoiled a thousand times. All of it is invented."""

from __future__ import annotations

import csv
import io
import json
import shutil
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, time
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import openpyxl

from picklist.server.desk import Desk
from picklist.store.keep_messages import door_key
from picklist.store.state import open_state, state_path
from picklist.tables.write import write_tables
from picklist.tasks.build import Wanted, build_day
from picklist.tasks.offices import send_cards
from tests.inputs.folders import DAY, Rows, sound_rows
from tests.messages.words import siu
from tests.upkeep.office import ask_row, new_row, row_of, write

NOW = datetime(2026, 11, 25, 18, 0)  # noqa: DTZ001 - the site's wall time
CODES = (
    {"field": "AIL-3", "code": "OR1", "means": "room", "value": "OR 1"},
    {"field": "AIP-3", "code": "Q77", "means": "surgeon", "value": "S01"},
    {"field": "AIS-3", "code": "29881", "means": "procedure", "value": "KNEE"},
)
SCANS = "# shelf 2\nCART C-1\nC-1.R1\nKNEE-01\n100001\nBY mk\nNOTE looked twice\nDONE\nC-3.R1\nMISSING 100001\nDONE\n"
USED = (
    "case,kind,thing,set,open,hold,used,unopened\n"
    "C-1,tray,T-KNEE,KNEE-01,1,0,1,0\nC-2,item,100002,,3,0,2,1\nC-3,item,100001,,2,1,3,0\n"
)
EXPORT = (
    "Case No;Date;Theatre;Start time;Duration (min);Operating surgeon;Procedure code;Side;Patient\n"
    "C-7;26.11.2026;OR 1;12:30;60;S01;KNEE;left;x\nC-8;26.11.2026;OR 2;13:45;45;S02;HERNIA;none;y\n"
)
APPOINTMENT: dict[str, Any] = {
    "resourceType": "Appointment",
    "id": "A77",
    "meta": {"lastUpdated": "2026-11-25T12:00:00-06:00"},
    "status": "booked",
    "identifier": [{"system": "urn:cases", "value": "C-77"}],
    "serviceType": [{"coding": [{"system": "urn:own", "code": "29881"}]}],
    "start": "2026-11-26T07:30:00-06:00",
    "end": "2026-11-26T09:00:00-06:00",
    "minutesDuration": 90,
    "participant": [
        {"actor": {"reference": "Practitioner/Q77", "display": "x"}, "status": "accepted"},
        {"actor": {"reference": "Location/OR1"}, "status": "accepted"},
    ],
}


def three_cases() -> Rows:
    """The sound site with a third case, so that two share the only knee set; a hand-over, hours and codes."""
    rows = sound_rows()
    later = {"case": "C-3", "start": time(13, 0), "room": "OR 2", "team": "S02"}
    rows["Schedule"].append({**rows["Schedule"][0], **later})
    rows["Lots"].append({"item": "100002", "lot": "L2", "quantity": 9, "expiry": "2028-01", "place": "A-02"})
    rows["Codes"] = [dict(one) for one in CODES]
    return rows


@dataclass(frozen=True, slots=True)
class Evening:
    """A folder with the site, its papers, and files that came in."""

    place: Path

    @property
    def site(self) -> Path:
        """The site's folder."""
        return self.place / "site"

    @property
    def out(self) -> Path:
        """Its papers."""
        return self.place / "out"

    def desk(self) -> Desk:
        """The page's desk of it."""
        return Desk(self.site, self.out, lambda: NOW)

    @contextmanager
    def copy(self, *, papers: bool = False) -> Iterator[Evening]:
        """The same evening elsewhere, with or without what was printed, gone when it is left."""
        with TemporaryDirectory(prefix="hard-") as folder:
            place = Path(folder) / "evening"
            shutil.copytree(self.place, place, ignore=None if papers else shutil.ignore_patterns("out", "came"))
            yield Evening(place)


def make_evening(place: Path) -> Evening:
    """Write the site, build its lists, and lay what comes in into ``came``."""
    evening = Evening(place)
    evening.site.mkdir(parents=True)
    write_tables(evening.site, three_cases())
    build(evening)
    with open_state(state_path(evening.site)) as state:
        door_key(state)  # so that the same id gets the same mark in every copy
    came = place / "came"
    came.mkdir()
    site_as_csv(evening.site, place / "csv")
    _fill(
        evening.out / "carts.xlsx",
        came / "carts.xlsx",
        {"Carts": {"done": "yes", "by": "mk"}, "Things": {"missing": 1}},
    )
    _fill(evening.out / "used.xlsx", came / "used.xlsx", {"Usage": {"used": 1}})
    send_cards(evening.site, "S01", came / "office.xlsx", NOW)
    _answer_as_office(came / "office.xlsx")
    (came / "scans.txt").write_text(SCANS, encoding="utf-8")
    (came / "used.csv").write_text(USED, encoding="utf-8")
    (came / "export.csv").write_text(EXPORT, encoding="utf-8")
    moved = siu("S13", control="MSG2", start="20261126091500", msh7="20261125130000")
    other = siu("S12", control="MSG3", filler="77002^ORSYS", start="20261126120000")
    (came / "messages.hl7").write_text("\r".join((siu("S12"), moved, other)) + "\r", encoding="utf-8")
    (came / "bundle.json").write_text(json.dumps(_bundle(APPOINTMENT)), encoding="utf-8")
    second = {**APPOINTMENT, "id": "A78", "identifier": [{"system": "urn:cases", "value": "C-78"}]}
    lines = (APPOINTMENT, second)
    (came / "lines.ndjson").write_text("\n".join(json.dumps(one) for one in lines) + "\n", encoding="utf-8")
    return evening


def _bundle(*resources: dict[str, Any]) -> dict[str, Any]:
    return {"resourceType": "Bundle", "type": "collection", "entry": [{"resource": one} for one in resources]}


def build(evening: Evening, now: datetime = NOW) -> None:
    """Build the day's lists."""
    built = build_day(Wanted(folder=evening.site, out=evening.out, now=now, day=DAY, with_chance=False), lambda _: None)
    assert built.written is not None, built.problems


def _fill(form: Path, target: Path, cells: Mapping[str, Mapping[str, str | int]]) -> None:
    """The form with its first rows filled in."""
    book = openpyxl.load_workbook(form)
    for name, values in cells.items():
        sheet = book[name]
        heads = [cell.value for cell in sheet[3]]
        for row in (4, 5):
            if sheet.cell(row, 1).value is not None:
                for head, value in values.items():
                    sheet.cell(row, heads.index(head) + 1).value = value
    book.save(target)


def _answer_as_office(path: Path) -> None:
    """A changed number, a new line, a line given up, and a thing asked for."""
    book = openpyxl.load_workbook(path)
    sheet = book["KNEE"]
    write(sheet, row_of(sheet, "T-KNEE"), open=2)
    write(sheet, new_row(sheet), name="Sponge, 10 pack (100002)", open=1)
    write(sheet, ask_row(sheet), name="Soft retractor")
    book.save(path)


def site_as_csv(site: Path, target: Path) -> None:
    """Write the tables of a site's workbooks as CSV files into a folder."""
    target.mkdir(exist_ok=True)
    for path in site.glob("*.xlsx"):
        for sheet in openpyxl.load_workbook(path).worksheets:
            out = io.StringIO(newline="")
            csv.writer(out).writerows([_text(value) for value in row] for row in sheet.iter_rows(values_only=True))
            (target / f"{sheet.title}.csv").write_text(out.getvalue(), encoding="utf-8", newline="")


def _text(value: object) -> str:
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == time(0, 0) else value.isoformat(sep=" ")
    return "" if value is None else str(value)
