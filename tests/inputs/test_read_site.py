"""A sound folder becomes a whole site, however its tables are spread over files."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest

from picklist.inputs import read_site
from picklist.model.schedule import Side
from picklist.tables.schema import TABLES
from tests.inputs.flaws import in_sheet
from tests.inputs.folders import NOW, Rows, besides_left_out, read_changed, sound_rows, write_site


def test_that_a_sound_folder_has_no_problems(tmp_path: Path) -> None:
    site, problems = read_site(write_site(tmp_path), now=NOW)
    assert besides_left_out(problems) == ()
    assert site is not None
    assert [case.number for case in site.cases] == ["C-1", "C-2"]
    # 07:30 in Chicago in November is 13:30 UTC
    assert site.cases[0].start == datetime(2026, 11, 26, 13, 30, tzinfo=UTC)
    assert site.cases[0].side is Side.LEFT
    assert site.card_lines[0].surgeon is None
    assert (site.card_lines[1].open, site.card_lines[1].hold) == (2, 1)
    assert site.packs["PK-1"].lines[0].item == "100003"
    assert site.lots[0].expiry == date(2027, 6, 30)
    assert [step.after for step in site.routes["STEAM"].steps] == [(), ("wash",), ("steam",)]
    assert site.sets["BASIC-01"].step_since == datetime(2026, 11, 25, 22, 30, tzinfo=UTC)
    assert len(site.hours) == 7


@pytest.mark.parametrize(
    ("stated", "side", "sides"),
    [
        ("right; left", Side.BOTH, (Side.RIGHT, Side.LEFT)),
        ("none; left", Side.LEFT, (Side.NOT_SIDED, Side.LEFT)),
        ("both, left", Side.BOTH, (Side.BOTH, Side.LEFT)),
        ("left; L", Side.LEFT, ()),
        ("left", Side.LEFT, ()),
        ("", None, ()),
    ],
)
def test_that_each_procedure_may_have_its_side(
    tmp_path: Path, stated: str, side: Side | None, sides: tuple[Side, ...]
) -> None:
    def two_procedures(rows: Rows) -> None:
        rows["Schedule"][0] |= {"procedures": ("KNEE", "HERNIA"), "side": stated}

    site, problems = read_site(write_site(tmp_path, two_procedures), now=NOW)
    assert site is not None
    assert besides_left_out(problems) == ()
    assert (site.cases[0].side, site.cases[0].sides) == (side, sides)
    stated_for = [site.cases[0].side_of(number) for number in (0, 1)]
    assert stated_for == list(sides or (side, side))


def test_that_a_place_in_the_input_is_carried_along(tmp_path: Path) -> None:
    site, _ = read_site(write_site(tmp_path), now=NOW)
    assert site is not None
    assert (site.cases[1].where.file, site.cases[1].where.sheet, site.cases[1].where.row) == (
        "schedule.xlsx",
        "Schedule",
        3,
    )


@pytest.mark.parametrize(
    "how",
    [
        {"as_csv": frozenset(table.name for table in TABLES)},
        {"as_csv": frozenset({"Schedule", "Cards"})},
        {"books": {"all in one": tuple(table.name for table in TABLES)}},
        {"books": {}},
    ],
    ids=["all CSV", "mixed", "one workbook", "a workbook each"],
)
def test_that_the_spread_over_files_makes_no_difference(tmp_path: Path, how: dict[str, Any]) -> None:
    usual, _ = read_site(write_site(tmp_path / "usual"), now=NOW)
    other, problems = read_site(write_site(tmp_path / "other", **how), now=NOW)
    assert besides_left_out(problems) == ()
    assert other == usual


def without(rows: Rows, table: str) -> None:
    rows.pop(table, None)


@pytest.mark.parametrize(
    ("day", "shown_as", "expiry"),
    [
        (date(2027, 6, 1), "mmm-yy", date(2027, 6, 30)),  # what a spreadsheet makes of 6/2027
        (date(2027, 6, 1), '[$-409]mm"."yyyy;@', date(2027, 6, 30)),
        (date(2027, 6, 1), "yyyy-mm-dd", date(2027, 6, 1)),
        (date(2027, 6, 15), "mmm-yy", date(2027, 6, 15)),
    ],
)
def test_that_an_expiry_shown_as_a_month_is_its_last_day(
    tmp_path: Path, day: date, shown_as: str, expiry: date
) -> None:
    def show(sheet: Any) -> None:
        head = [cell.value for cell in sheet[1]]
        cell = sheet.cell(2, head.index("expiry") + 1, day)
        cell.number_format = shown_as

    write_site(tmp_path)
    in_sheet("supplies", "Lots", show)(tmp_path)
    site, _ = read_site(tmp_path, now=NOW)
    assert site is not None
    assert site.lots[0].expiry == expiry


def test_that_a_missing_folder_is_a_problem(tmp_path: Path) -> None:
    site, problems = read_site(tmp_path / "none", now=NOW)
    assert site is None
    assert [problem.kind for problem in problems] == ["no folder"]


@pytest.mark.parametrize("table", [table.name for table in TABLES])
def test_that_a_missing_table_stops_everything_when_it_is_needed(tmp_path: Path, table: str) -> None:
    needed = next(one.required for one in TABLES if one.name == table)
    site, problems = read_changed(tmp_path, lambda rows: without(rows, table))
    assert ("missing table" in [problem.kind for problem in problems]) is needed
    assert (site is None) is needed
    if needed:
        assert [problem.kind for problem in problems] == ["missing table"], "nothing echoes a missing table"


def test_that_ids_match_whatever_their_case_and_spaces(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        rows["Schedule"][0] |= {"surgeon": " s01", "room": "or  1", "procedures": ("knee",)}

    site, problems = read_changed(tmp_path, change)
    assert problems == []
    assert site is not None
    assert (site.cases[0].surgeon, site.cases[0].room, site.cases[0].procedures) == ("S01", "OR 1", ("KNEE",))


def test_that_a_folder_that_cannot_be_opened_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(_path: Path) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "iterdir", refuse)
    site, problems = read_site(tmp_path, now=NOW)
    assert site is None
    assert problems[0].kind == "cannot open"


def test_that_the_sound_rows_are_not_shared() -> None:
    assert sound_rows() is not sound_rows()
