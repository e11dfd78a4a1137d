"""Write sample_inputs/broken: one small site with many mistakes that offices make, all of it invented.

python -m tests.inputs.make_broken
"""

from __future__ import annotations

from datetime import date, datetime, time
from pathlib import Path
from typing import Any

from openpyxl import load_workbook

from picklist.tables.book import save_settled
from picklist.tables.write import write_tables
from tests.inputs.folders import DAY, Rows, sound_rows

BROKEN = Path(__file__).parents[2] / "sample_inputs" / "broken"


def broken_rows() -> Rows:
    """The sound small site, then the mistakes that can be made in any spreadsheet."""
    rows = sound_rows()
    for spoil in (_spoil_schedule, _spoil_cards, _spoil_supplies, _spoil_trays, _spoil_department, _spoil_settings):
        spoil(rows)
    return rows


def _case(number: str, room: str, start: object, surgeon: str, **more: Any) -> dict[str, Any]:
    usual = {"day": DAY, "minutes": 60, "procedures": ("HERNIA",), "side": "none"}
    return usual | {"case": number, "room": room, "start": start, "surgeon": surgeon} | more


def _spoil_schedule(rows: Rows) -> None:
    rows["Rooms"] += [{"room": f"OR {n}"} for n in (3, 4, 5, 6, 7, 8)]
    rows["Staff"].append({"person": "S03", "name": "Dr. Mire", "outer glove": "7.5", "gown": "L"})
    rows["Schedule"] += [
        _case("C-3", "OR 1", time(8, 30), "S03"),  # C-1 is in OR 1 until 09:00
        _case("C-4", "OR 3", time(8, 30), "S02"),  # S02 is in OR 2 until 09:00
        _case("C-5", "OR 3", "25:30", "S03"),
        _case("C-6", "OR 33", time(10, 0), "SO3"),
        _case("C-7", "OR 4", time(11, 0), "S03", minutes="1:30"),
        _case("C-8", "OR 4", time(13, 0), "S03", day="11/26/2026", side="L"),
        _case("C-9", "OR 5", time(13, 0), "S02", day="26/11/2026"),
        _case("C-10", "OR 5", time(14, 0), "S01", notes="MRN 0000000 (invented)"),
        _case("C-11", "OR 6", time(16, 0), "S01", procedures=("HERNIA", "HERNAI")),
        _case("C-12", "OR 7", time(16, 0), "S02"),  # its room is merged with the next one's
        _case("C-13", "OR 7", time(18, 0), "S02"),
        _case("C-14", "OR 8", time(16, 0), "S03"),  # its surgeon is an error value
        _case("C-15", "OR 8", time(18, 0), "S03"),  # its minutes are a formula never computed
        _case("c-4", "OR 6", time(19, 0), "S01"),
        _case("C-17", "OR 6", time(2, 30), "S03", day=date(2027, 3, 14)),
    ]


def _spoil_cards(rows: Rows) -> None:
    rows["Procedures"].append({"procedure": "TOE", "name": "Toe repair"})
    rows["Cards"] += [
        {"procedure": "TOE", "kind": "tray", "thing": "T-BASIK", "open": 1},
        {"procedure": "TOE", "kind": "item", "thing": "T-BASIC", "open": 1},
        {"procedure": "TOE", "kind": "item", "thing": "100001", "open": "2 boxes"},
        {"procedure": "TOE", "kind": "item", "thing": "100002", "open": -1},
        {"procedure": "TOE", "kind": "item", "thing": "100002"},
        {"procedure": "HERNIA", "surgeon": "S03", "change": "remove", "kind": "item", "thing": "100001"},
        {"procedure": "TOE", "kind": "item", "thing": "100002", "open": 1, "only if": "alret latex"},
        {"procedure": "TOE", "kind": "item", "thing": "100002", "open": 1, "from": "13/01/2026"},
        {"procedure": "TOE", "kind": "item", "thing": "100002", "open": 1, "from": "01/13/2026"},
        {"procedure": "TOO", "kind": "item", "thing": "100002", "open": 1},
        {"procedure": "TOE", "kind": "item", "thing": "245", "open": 1},
    ]


def _spoil_supplies(rows: Rows) -> None:
    rows["Items"] += [
        {"item": "000245", "name": "Drape", "GTIN": "12345673"},
        {"item": "100001", "name": "Suture 2-0, again"},
        {"item": "100009", "name": "Catheter", "latex": True, "latex-free twin": "100008"},
        {"item": "100010", "name": "Light", "class": "suply"},
    ]
    rows["Lots"] += [
        {"item": "100002", "lot": "L2", "quantity": 8, "unit": "box", "place": "A-02"},
        {"item": "100002", "lot": "L3", "quantity": 8, "expiry": "2027-13", "place": "A-02"},
        {"item": "100002", "lot": "L4", "quantity": 8, "expiry": date(2016, 5, 1), "place": "A-20"},
        {"item": "100003", "lot": "L5", "quantity": 8, "expiry": 46903, "place": "A-02"},
    ]


def _spoil_trays(rows: Rows) -> None:
    rows["Trays"] += [
        {"tray": "T-TOE", "name": "Toe", "weight lb": 9},
        {"tray": "T-HEAVY", "name": "Heavy", "route": "STEAM", "weight lb": 27, "container": True},
        {"tray": "T-KILO", "name": "Weighed in kg", "route": "STEAM", "weight lb": "8 kg"},
        {"tray": "T-RING", "name": "Circle", "route": "RING"},
    ]
    rows["Sets"] += [
        {"set": "KNEE-01", "tray": "T-KNEE", "place": "A-02"},
        {"set": "BASIC-02", "tray": "T-BASIC", "state": "at step", "step": "steem", "step since": _wall(16)},
        {"set": "BASIC-03", "tray": "T-BASIC", "state": "at step", "step": "wash", "step since": _wall(20)},
        {"set": "BASIC-04", "tray": "T-BASIC", "state": "in use"},
        {"set": "BASIC-05", "tray": "T-BASIC", "state": "dirty", "step since": "16:30"},
        {"set": "HEAVY-01", "tray": "T-HEAVY"},
        {"set": "KILO-01", "tray": "T-KILO", "state": "gone"},
    ]


def _wall(hour: int) -> datetime:
    return datetime(2026, 11, 25, hour, 30)  # noqa: DTZ001 (a wall time)


def _spoil_department(rows: Rows) -> None:
    rows["Routes"] += [
        {"route": "RING", "step": "a", "after": ("b",), "usual minutes": 10, "least minutes": 10},
        {"route": "RING", "step": "b", "after": ("a",), "usual minutes": 10, "least minutes": 10},
        {"route": "NOTHING", "step": "a", "usual minutes": 0, "least minutes": 0},
        {"route": "QUICK", "step": "wash", "usual minutes": 10, "least minutes": 20, "station": "washer"},
        {
            "route": "SHORT",
            "step": "steam",
            "usual minutes": 90,
            "least minutes": 60,
            "cycle": "pre-vacuum",
            "temperature C": 132,
            "exposure minutes": 3,
            "drying minutes": 20,
        },
    ]
    rows["Hours"].append({"station": "washers", "weekday": "Wednsday", "from": time(6, 0), "to": time(23, 0)})


def _spoil_settings(rows: Rows) -> None:
    rows["Settings"] += [
        {"setting": "setup lede", "value": "45"},
        {"setting": "margin", "value": "half an hour"},
    ]


def write_broken(folder: Path) -> None:
    """Write the folder: the rows, then what only a spreadsheet program can do to them, then strange files."""
    write_tables(folder, broken_rows())
    _spoil_sheets(folder)
    (folder / "old cards.xls").write_bytes(bytes.fromhex("d0cf11e0a1b11ae1") + b"\0" * 504)
    locked = bytes.fromhex("d0cf11e0a1b11ae1") + b"\0" * 504 + "EncryptedPackage".encode("utf-16-le")
    (folder / "locked.xlsx").write_bytes(locked)
    (folder / "report.xlsx").write_bytes(b"<html><body><table><tr><td>case</td></tr></table></body></html>\n")
    (folder / "Tray content.csv").write_text("tray;instrument;quantity\nT-KNEE;Clamp;2\n", encoding="utf-8")


def _spoil_sheets(folder: Path) -> None:
    path = folder / "schedule.xlsx"
    workbook = load_workbook(path)
    sheet = workbook["Schedule"]
    sheet.insert_rows(1, 2)  # the header stands in row 3, C-1 in row 4
    sheet["A1"] = "Cases of Thursday"
    sheet["Q3"], sheet["Q4"] = "Patient", "(never read)"
    sheet["O3"] = "priorty"
    sheet["F17"] = "#N/A"
    sheet["F17"].data_type = "e"
    sheet["E18"] = "=30*2"
    sheet.row_dimensions[5].hidden = True
    sheet.merge_cells("C15:C16")
    sheet.freeze_panes = "A4"
    save_settled(workbook, path)


if __name__ == "__main__":
    write_broken(BROKEN)
