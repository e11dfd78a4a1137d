"""Routes that never end, sets in two places and times that cannot be: check and build name the cell and end."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.cli.run import FINE, PROBLEMS, run
from tests.inputs.folders import DAY, Rows, write_site

NOW = "2026-11-25 17:00"
Change = Callable[[Rows], None]
Told = tuple[str, str, int | None, str]  # kind, sheet, row, column


def fill(table: str, row: int, **cells: Any) -> Change:
    def change(rows: Rows) -> None:
        rows[table][row - 2] |= {column.replace("_", " "): value for column, value in cells.items()}

    return change


def add(table: str, *made: dict[str, Any]) -> Change:
    def change(rows: Rows) -> None:
        rows.setdefault(table, []).extend(made)

    return change


def wall(text: str) -> datetime:
    return datetime.fromisoformat(text)


# The clock of the sound site goes forward on 14 March 2027 at 02:00 and back on 1 November 2026 at 02:00.
VAN = fill("Routes", 2, run="van")
THURSDAY = add("Departures", {"run": "van", "weekday": "Thu", "time": time(9)})
EACH_THURSDAY_OFF = add("Holidays", *({"day": DAY + timedelta(days=7 * week)} for week in range(10)))

FLAWS: dict[str, tuple[tuple[Change, ...], Told]] = {
    "station that closes too soon": (
        (fill("Hours", 2, to=time(6, 59)),),
        ("route never ends", "Routes", 2, "station"),
    ),
    "station that works only in an hour that comes twice": (
        (fill("Hours", 2, **{"from": time(1, 30), "to": time(2)}),),
        ("route never ends", "Routes", 2, "station"),
    ),
    "station on holiday for months": (
        (add("Holidays", *({"day": date(2026, 11, 24) + timedelta(days=n), "station": "washers"} for n in range(90))),),
        ("route never ends", "Routes", 2, "station"),
    ),
    "run without departures": ((VAN,), ("unknown id", "Routes", 2, "run")),
    "departures on holidays only": ((VAN, THURSDAY, EACH_THURSDAY_OFF), ("route never ends", "Routes", 2, "run")),
    "steps in a circle": (
        (fill("Routes", 2, after="cool"), fill("Routes", 3, after="wash"), fill("Routes", 4, after="steam")),
        ("circular route", "Routes", 2, "after"),
    ),
    "a step after itself": ((fill("Routes", 3, after="steam"),), ("circular route", "Routes", 2, "after")),
    "a step after an unknown one": ((fill("Routes", 3, after="polish"),), ("unknown step", "Routes", 3, "after")),
    "more least than usual minutes": (
        (fill("Routes", 2, least_minutes=90),),
        ("usual below least", "Routes", 2, "usual minutes"),
    ),
    "a set in two rows": (
        (add("Sets", {"set": "knee-01", "tray": "T-KNEE", "state": "dirty"}),),
        ("set in two places", "Sets", 4, "set"),
    ),
    "a set on the shelf and in a case": (
        (fill("Sets", 2, in_case="C-1"),),
        ("set in two places", "Sets", 2, "in case"),
    ),
    "a set on the shelf and still to come back": (
        (fill("Sets", 2, back_at=wall("2026-11-26 06:00")),),
        ("set in two places", "Sets", 2, "back at"),
    ),
    "a set in a case that has not begun": (
        (fill("Sets", 2, state="in use", in_case="C-1"),),
        ("in use too soon", "Sets", 2, "in case"),
    ),
    "a set in a case of no schedule": (
        (fill("Sets", 2, state="in use", in_case="C-99"),),
        ("unknown id", "Sets", 2, "in case"),
    ),
    "a set at a step of another route": (
        (
            add("Routes", {"route": "COLD", "step": "gas", "usual minutes": 100, "least minutes": 100}),
            fill("Sets", 3, step="gas"),
        ),
        ("step not in route", "Sets", 3, "step"),
    ),
    "a step since tomorrow": (
        (fill("Sets", 3, step_since=wall("2026-11-26 16:30")),),
        ("time to come", "Sets", 3, "step since"),
    ),
    "a set that should be back": (
        (fill("Sets", 2, state="away", back_at=wall("2026-11-25 03:00")),),
        ("time past", "Sets", 2, "back at"),
    ),
    "a loan that has gone back": (
        (
            fill("Sets", 2, state="on loan", back_at=wall("2026-11-20 08:00")),
            fill("Sets", 2, return_by=wall("2026-11-25 03:00")),
        ),
        ("time past", "Sets", 2, "return by"),
    ),
    "a record before its making": (
        (
            fill("Sets", 2, recorded_sterile_at=wall("2026-11-25 06:00")),
            fill("Sets", 2, recorded_sterile_until=date(2026, 11, 20)),
        ),
        ("record ends before it begins", "Sets", 2, "recorded sterile until"),
    ),
    "a set back in the hour that does not exist": (
        (fill("Sets", 2, state="away", back_at=wall("2027-03-14 02:30")),),
        ("no such hour", "Sets", 2, "back at"),
    ),
    "a case in the hour that does not exist": (
        (fill("Schedule", 2, day=date(2027, 3, 14), start=time(2, 30)),),
        ("no such hour", "Schedule", 2, "start"),
    ),
    "a case of another year": (
        (fill("Schedule", 3, day=date(2062, 11, 26)),),
        ("day far from the schedule", "Schedule", 3, "day"),
    ),
    "a set back in another year": (
        (fill("Sets", 2, state="away", back_at=wall("2062-11-26 08:00")),),
        ("day far from the schedule", "Sets", 2, "back at"),
    ),
    "a start time past midnight": (
        (fill("Stations", 2, start_times="25:00"),),
        ("past midnight", "Stations", 2, "start times"),
    ),
}

NOTICED: dict[str, tuple[Change, Told]] = {
    "a step since the hour that came twice": (
        fill("Sets", 3, step_since=wall("2026-11-01 01:30")),
        ("hour comes twice", "Sets", 3, "step since"),
    ),
    "a case in the hour that comes twice": (
        fill("Schedule", 2, day=date(2026, 11, 1), start=time(1, 30)),
        ("hour comes twice", "Schedule", 2, "start"),
    ),
    "hours that close as they open": (
        fill("Hours", 2, to=time(6)),
        ("hours round the clock", "Hours", 2, "to"),
    ),
    "a case of two months ago": (
        fill("Schedule", 2, day=date(2026, 9, 26)),
        ("planned in the past", "Schedule", 2, "status"),
    ),
}


def told(site: Path) -> tuple[int, list[Told]]:
    """What the check says: its exit code and each problem with its place."""
    code, said, _ = run("check", str(site), "--now", NOW, "--json")
    facts = json.loads(said)
    return code, [(one["kind"], one["sheet"], one["row"], one["column"]) for one in facts]


@pytest.mark.parametrize(("changes", "expected"), FLAWS.values(), ids=FLAWS)
def test_what_cannot_be_is_named_with_its_cell_and_built_around(
    tmp_path: Path, changes: tuple[Change, ...], expected: Told
) -> None:
    def change(rows: Rows) -> None:
        for one in changes:
            one(rows)

    site = tmp_path / "site"
    site.mkdir()
    code, found = told(write_site(site, change))
    assert (code, [one for one in found if one == expected]) == (PROBLEMS, [expected])
    code, said, complaint = run("build", str(site), "--now", NOW, "--out", str(tmp_path / "out"), "--no-chance")
    assert code == PROBLEMS
    assert "Traceback" not in said + complaint


@pytest.mark.parametrize(("change", "expected"), NOTICED.values(), ids=NOTICED)
def test_what_can_be_but_may_not_be_meant_is_noticed(tmp_path: Path, change: Change, expected: Told) -> None:
    site = tmp_path / "site"
    site.mkdir()
    code, found = told(write_site(site, change))
    assert (code, [one for one in found if one == expected]) == (FINE, [expected])
    code, _, _ = run("build", str(site), "--now", NOW, "--out", str(tmp_path / "out"), "--no-chance")
    assert code == FINE
