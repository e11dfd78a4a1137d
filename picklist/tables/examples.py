"""Lines that show how each table is filled in; together they make a tiny site without problems."""

from __future__ import annotations

from datetime import date, time
from typing import Any

from picklist.tables.settings_table import SETTING_ROWS

EXAMPLE = "EXAMPLE"  # every id of an example begins with it, so that nobody takes one for their own

EXAMPLE_ROWS: dict[str, tuple[dict[str, Any], ...]] = {
    "Schedule": (
        {
            "case": "EXAMPLE-1",
            "day": date(2026, 11, 26),
            "room": "EXAMPLE-OR",
            "start": time(7, 30),
            "minutes": 90,
            "surgeon": "EXAMPLE-S1",
            "procedures": ("EXAMPLE-KNEE",),
            "side": ("left",),
            "patient size": "adult",
            "fields": 1,
            "status": "planned",
            "may move": True,
            "priority": 1,
            "notes": "Example line: bring the spare battery",
        },
    ),
    "Procedures": (
        {
            "procedure": "EXAMPLE-KNEE",
            "name": "Example knee repair",
            "service": "Orthopedics",
            "pack": "EXAMPLE-PACK",
        },
    ),
    "Cards": (
        {
            "procedure": "EXAMPLE-KNEE",
            "surgeon": "every",
            "change": "add",
            "kind": "tray",
            "thing": "EXAMPLE-TRAY",
            "open": 1,
            "hold": 0,
            "counted": "per case",
            "from": date(2026, 1, 1),
            "approved": True,
            "note": "Example line",
        },
    ),
    "Items": (
        {
            "item": "EXAMPLE-100",
            "name": "Example drape, large",
            "unit": "each",
            "class": "supply",
            "place": "EXAMPLE-A-01",
            "latex": False,
            "keep back": 0,
            "retired": False,
        },
        {
            "item": "EXAMPLE-101",
            "name": "Example glove 7.5",
            "unit": "pair",
            "class": "outer glove",
            "size": "7.5",
            "place": "EXAMPLE-A-01",
            "latex": False,
            "keep back": 4,
            "retired": False,
        },
        {
            "item": "EXAMPLE-102",
            "name": "Example gown L",
            "unit": "each",
            "class": "gown",
            "size": "L",
            "place": "EXAMPLE-A-01",
            "latex": False,
            "keep back": 0,
            "retired": False,
        },
    ),
    "Packs": ({"pack": "EXAMPLE-PACK", "name": "Example knee pack", "item": "EXAMPLE-100", "quantity": 2},),
    "Trays": (
        {
            "tray": "EXAMPLE-TRAY",
            "name": "Example knee tray",
            "route": "EXAMPLE-STEAM",
            "weight lb": 17.5,
            "container": False,
            "sided": False,
            "implants": False,
            "latex": False,
            "keep ready": 0,
            "count sheet": True,
            "retired": False,
        },
    ),
    "Tray contents": ({"tray": "EXAMPLE-TRAY", "instrument": "Example needle holder, 7 in", "quantity": 2},),
    "Sets": (
        {
            "set": "EXAMPLE-TRAY-01",
            "tray": "EXAMPLE-TRAY",
            "state": "on shelf",
            "place": "EXAMPLE-A-01",
        },
    ),
    "Lots": (
        {
            "item": "EXAMPLE-PACK",
            "lot": "EXAMPLE-L1",
            "quantity": 12,
            "expiry": "2035-06",
            "place": "EXAMPLE-A-01",
        },
    ),
    "Places": ({"place": "EXAMPLE-A-01", "walking order": 10, "area": "Example store", "building": "EXAMPLE-MAIN"},),
    "Routes": (
        {
            "route": "EXAMPLE-STEAM",
            "step": "washer",
            "after": "start",
            "usual minutes": 60,
            "least minutes": 40,
            "station": "EXAMPLE-WASHER",
            "begins in": "decontamination",
        },
        {
            "route": "EXAMPLE-STEAM",
            "step": "sterilizer",
            "after": "washer",
            "usual minutes": 70,
            "least minutes": 60,
            "station": "EXAMPLE-STERILIZER",
            "begins in": "decontamination",
            "cycle": "pre-vacuum",
            "temperature C": 132,
            "exposure minutes": 4,
            "drying minutes": 25,
        },
        {
            "route": "EXAMPLE-STEAM",
            "step": "cooling",
            "after": "sterilizer",
            "usual minutes": 60,
            "least minutes": 30,
            "begins in": "decontamination",
        },
    ),
    "Stations": (
        {
            "station": "EXAMPLE-WASHER",
            "machines": 2,
            "trays per load": 6,
            "start every": 0,
            "may run past closing": False,
            "longest wait": 15,
        },
        {
            "station": "EXAMPLE-STERILIZER",
            "machines": 1,
            "trays per load": 8,
            "start every": 0,
            "may run past closing": False,
            "longest wait": 15,
        },
    ),
    "Hours": ({"station": "EXAMPLE-WASHER", "weekday": "daily", "from": time(6, 0), "to": time(23, 30)},),
    "Departures": ({"run": "EXAMPLE-VAN", "weekday": "Mon-Fri", "time": time(13, 0)},),
    "Holidays": ({"day": date(2026, 12, 25), "station": "EXAMPLE-VAN"},),
    "Transfers": (
        {"from building": "EXAMPLE-MAIN", "to building": "EXAMPLE-ANNEX", "minutes": 20, "run": "EXAMPLE-VAN"},
    ),
    "Staff": (
        {
            "person": "EXAMPLE-S1",
            "name": "Dr. Example",
            "role": "surgeon",
            "outer glove": "7.5",
            "gown": "L",
        },
    ),
    "Rooms": ({"room": "EXAMPLE-OR", "opens": time(7, 0), "closes": time(19, 0), "building": "EXAMPLE-ANNEX"},),
    "Past cases": (
        {"procedure": "EXAMPLE-KNEE", "surgeon": "EXAMPLE-S1", "planned minutes": 90, "actual minutes": 104},
    ),
    "Codes": ({"code": "EXAMPLE-ROOM-4", "field": "AIL-3", "means": "room", "value": "EXAMPLE-OR"},),
    "Settings": tuple(
        {"setting": one.name, "value": one.default or one.example, "meaning": one.help} for one in SETTING_ROWS
    ),
}
