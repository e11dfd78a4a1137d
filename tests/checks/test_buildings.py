"""A slip in the name of a building is told, and does not silently make a building to which no set comes."""

from __future__ import annotations

from collections.abc import Callable
from datetime import time
from pathlib import Path

import pytest

from picklist.checks import check_site
from picklist.problems import Severity
from tests.inputs.folders import NOW, Rows, read_changed

Found = tuple[str, str, int | None, str, tuple[str, ...]]


def two_buildings(rows: Rows) -> None:
    rows["Rooms"] = [{"room": "OR 1", "building": "Main"}, {"room": "OR 2", "building": "Annex"}]
    rows["Places"][0]["building"] = "Main"
    rows["Places"][1]["building"] = "Main"
    rows["Transfers"] = [
        {"from building": "Main", "to building": "Annex", "minutes": 20},
        {"from building": "Annex", "to building": "Main", "minutes": 20},
    ]


def cell(table: str, row: int, column: str, written: object) -> Callable[[Rows], None]:
    def change(rows: Rows) -> None:
        rows[table][row - 2][column] = written

    return change


def told(kind: str, table: str, row: int, column: str, *nearest: str) -> Found:
    return kind, table, row, column, nearest


NAMES = {
    "sound": (two_buildings, []),
    "no room there": (
        cell("Rooms", 3, "building", ""),
        [
            told("unknown building", "Transfers", 2, "to building"),
            told("unknown building", "Transfers", 3, "from building"),
        ],
    ),
    "one room without its building": (
        lambda rows: rows["Rooms"].append({"room": "OR 3"}),
        [told("building not said", "Rooms", 4, "building")],
    ),
    "one place without its building": (
        cell("Places", 3, "building", ""),
        [told("building not said", "Places", 3, "building")],
    ),
    "other case": (
        cell("Rooms", 3, "building", "annex"),
        [told("building in two spellings", "Rooms", 3, "building", "Annex")],
    ),
    "capitals": (
        cell("Places", 3, "building", "MAIN"),
        [told("building in two spellings", "Places", 3, "building", "Main")],
    ),
    "a letter left out": (
        cell("Transfers", 2, "to building", "Anex"),
        [told("unknown building", "Transfers", 2, "to building", "Annex")],
    ),
    "two letters swapped": (
        cell("Rooms", 2, "building", "Mian"),
        [told("building out of reach", "Rooms", 2, "building", "Main")],
    ),
    "to itself": (
        cell("Transfers", 3, "to building", "Annex"),
        [told("way to itself", "Transfers", 3, "to building")],
    ),
    "no way back": (
        lambda rows: rows["Transfers"].pop(),
        [told("way back not listed", "Transfers", 2, "to building")],
    ),
    "no way": (
        cell("Transfers", 2, "to building", "Main"),
        [
            told("way to itself", "Transfers", 2, "to building"),
            told("building out of reach", "Rooms", 3, "building"),
        ],
    ),
}


@pytest.mark.parametrize(("change", "expected"), NAMES.values(), ids=NAMES)
def test_names_of_buildings(tmp_path: Path, change: Callable[[Rows], None], expected: list[Found]) -> None:
    def both(rows: Rows) -> None:
        two_buildings(rows)
        change(rows)

    site, problems = read_changed(tmp_path, both)
    assert site is not None
    assert problems == []
    found = [one for one in check_site(site, NOW) if "building" in one.kind or "way" in one.kind]
    assert [(one.kind, one.where.sheet, one.where.row, one.where.column, one.nearest) for one in found] == expected
    assert all(one.severity is Severity.TO_FIX and one.expected for one in found)


def test_a_building_that_nobody_knows_is_not_said_aloud(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        two_buildings(rows)
        rows["Transfers"][0]["to building"] = "Oda Wrenfield"

    site, _ = read_changed(tmp_path, change)
    assert site is not None
    told = [one.sentence_on_screen() for one in check_site(site, NOW) if one.kind == "unknown building"]
    assert len(told) == 1
    assert "Wrenfield" not in told[0]


def test_hours_that_open_and_close_at_one_time_are_told_to_count_as_a_whole_day(tmp_path: Path) -> None:
    for closes, kinds in ((time(6), ["hours round the clock"]), (time(22), [])):
        site, _ = read_changed(tmp_path / str(closes.hour), cell("Hours", 2, "to", closes))
        assert site is not None
        found = [one for one in check_site(site, NOW) if one.kind == "hours round the clock"]
        assert [one.kind for one in found] == kinds
        assert [(one.where.row, one.where.column, one.severity) for one in found] == [(2, "to", Severity.NOTICE)] * len(
            kinds
        )


def test_a_whole_day_from_midnight_to_midnight_needs_no_word(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        rows["Hours"][0] |= {"from": time(0), "to": "24:00"}

    site, problems = read_changed(tmp_path, change)
    assert site is not None
    assert problems == []
    assert [one.kind for one in check_site(site, NOW)] == []
