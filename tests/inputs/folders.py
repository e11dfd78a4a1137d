"""A small sound site as rows, and ways to write it with one thing wrong. All of it is invented."""

from __future__ import annotations

import copy
from collections.abc import Callable, Iterable
from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import Any

from picklist.inputs import read_site
from picklist.model.site import Site
from picklist.problems import Problem, Severity
from picklist.tables.write import write_tables

NOW = datetime(2026, 11, 25, 23, 0, tzinfo=UTC)
DAY = date(2026, 11, 26)
Rows = dict[str, list[dict[str, Any]]]


def sound_rows() -> Rows:
    """Two cases of two surgeons, one route with two stations, everything that they need."""
    return copy.deepcopy(SOUND)


SOUND: Rows = {
    "Settings": [
        {"setting": "site", "value": "Example Hospital"},
        {"setting": "time zone", "value": "America/Chicago"},
    ],
    "Schedule": [
        {
            "case": "C-1",
            "day": DAY,
            "room": "OR 1",
            "start": time(7, 30),
            "minutes": 90,
            "surgeon": "S01",
            "procedures": ("KNEE",),
            "side": "left",
        },
        {
            "case": "C-2",
            "day": DAY,
            "room": "OR 2",
            "start": time(8, 0),
            "minutes": 60,
            "surgeon": "S02",
            "procedures": ("HERNIA",),
            "side": "none",
        },
    ],
    "Procedures": [
        {"procedure": "KNEE", "name": "Knee repair", "service": "Orthopedics", "pack": "PK-1"},
        {"procedure": "HERNIA", "name": "Hernia repair", "service": "General"},
    ],
    "Staff": [
        {"person": "S01", "name": "Dr. Quill", "outer glove": "7.5", "gown": "L"},
        {"person": "S02", "name": "Dr. Tarn", "outer glove": "6.5", "gown": "M"},
    ],
    "Rooms": [{"room": "OR 1"}, {"room": "OR 2"}],
    "Cards": [
        {"procedure": "KNEE", "kind": "tray", "thing": "T-KNEE", "open": 1},
        {"procedure": "KNEE", "kind": "item", "thing": "100001", "open": 2, "hold": 1},
        {"procedure": "KNEE", "surgeon": "S01", "change": "remove", "kind": "item", "thing": "100001"},
        {"procedure": "HERNIA", "kind": "tray", "thing": "T-BASIC", "open": 1},
        {"procedure": "HERNIA", "surgeon": "S02", "kind": "item", "thing": "100002", "open": 3},
    ],
    "Items": [
        {"item": "100001", "name": "Suture 2-0", "place": "A-01", "unit": "each", "latex": False},
        {"item": "100002", "name": "Sponge, 10 pack", "place": "A-02", "unit": "pack", "latex": False},
        {"item": "100003", "name": "Gown L", "place": "A-02", "class": "gown", "size": "L", "latex": False},
        {"item": "100004", "name": "Gown M", "place": "A-02", "class": "gown", "size": "M", "latex": False},
        {"item": "100005", "name": "Glove 7.5", "place": "A-02", "class": "outer glove", "size": "7.5", "latex": False},
        {"item": "100006", "name": "Glove 6.5", "place": "A-02", "class": "outer glove", "size": "6.5", "latex": False},
    ],
    "Packs": [{"pack": "PK-1", "name": "Knee pack", "item": "100003", "quantity": 2}],
    "Lots": [
        {"item": "100001", "lot": "L1", "quantity": 20, "expiry": "2027-06", "place": "A-01", "unit": "each"},
        {"item": "PK-1", "lot": "L9", "quantity": 4, "expiry": date(2027, 1, 15), "place": "A-02"},
    ],
    "Places": [{"place": "A-01", "walking order": 10}, {"place": "A-02", "walking order": 20}],
    "Trays": [
        {
            "tray": "T-KNEE",
            "name": "Knee basic",
            "route": "STEAM",
            "weight lb": 17.5,
            "sided": False,
            "implants": False,
            "latex": False,
        },
        {
            "tray": "T-BASIC",
            "name": "Basic",
            "route": "STEAM",
            "weight lb": 12,
            "sided": False,
            "implants": False,
            "latex": False,
        },
    ],
    "Tray contents": [{"tray": "T-KNEE", "instrument": "Needle holder", "quantity": 2}],
    "Sets": [
        {"set": "KNEE-01", "tray": "T-KNEE", "state": "on shelf", "place": "A-01"},
        {
            "set": "BASIC-01",
            "tray": "T-BASIC",
            "state": "at step",
            "step": "steam",
            "step since": datetime(2026, 11, 25, 16, 30),  # noqa: DTZ001 (a wall time)
        },
    ],
    "Routes": [
        {"route": "STEAM", "step": "wash", "usual minutes": 60, "least minutes": 45, "station": "washers"},
        {
            "route": "STEAM",
            "step": "steam",
            "usual minutes": 70,
            "least minutes": 60,
            "station": "sterilizers",
            "temperature C": 132,
            "exposure minutes": 4,
            "drying minutes": 25,
        },
        {"route": "STEAM", "step": "cool", "usual minutes": 45, "least minutes": 30},
    ],
    "Stations": [
        {"station": "washers", "machines": 2, "trays per load": 6},
        {"station": "sterilizers", "machines": 1, "trays per load": 8},
    ],
    "Hours": [{"station": "washers", "weekday": "daily", "from": time(6, 0), "to": time(23, 0)}],
}


def write_site(folder: Path, change: Callable[[Rows], None] | None = None, **how: Any) -> Path:
    """Write the sound site into the folder, changed first."""
    rows = sound_rows()
    if change:
        change(rows)
    write_tables(folder, rows, **how)
    return folder


def read_changed(folder: Path, change: Callable[[Rows], None] | None = None) -> tuple[Site | None, list[Problem]]:
    """The changed site, read back, with its problems but not its notices."""
    site, problems = read_site(write_site(folder, change), now=NOW)
    return site, [problem for problem in problems if problem.severity is not Severity.NOTICE]


# The sound site is small: it is told what is assumed where its tables say nothing.
LEFT_OUT = frozenset({"blank cells", "missing column", "empty column", "missing table"})


def besides_left_out(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    """Problems other than the notices of what a small site leaves out."""
    return tuple(one for one in problems if not (one.severity is Severity.NOTICE and one.kind in LEFT_OUT))


def kinds_and_cells(problems: list[Problem] | tuple[Problem, ...]) -> list[tuple[str, str]]:
    """(kind, cell or sheet) of problems: what tests assert instead of wording."""
    return [(problem.kind, problem.where.cell or problem.where.sheet or problem.where.file) for problem in problems]
