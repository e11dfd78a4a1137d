"""A hospital's own export, whatever its habits, is read by what the table Export says: from the file to the plan."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from picklist.inputs import read_site
from picklist.model.site import Site
from picklist.plan import PlanRequest, make_plan
from picklist.problems import Problem, Severity
from picklist.tables.write import write_tables
from tests.inputs.exports import EXPECTED, FILES, SEMICOLONS, START_AND_END, TWELVE_HOURS, Exported
from tests.inputs.folders import DAY, NOW, sound_rows

PATIENT = ("Wrenfield", "WRENFIELD", "Oda", "4829130", "1952", "172,5")


def read(folder: Path, file: Exported, more: str = "") -> tuple[Site | None, tuple[Problem, ...]]:
    """The sound site with this export in the place of its schedule."""
    rows = sound_rows()
    del rows["Schedule"]
    rows["Settings"].append({"setting": "date order", "value": "month first"})
    write_tables(folder, rows)
    (folder / file.name).write_bytes(file.data)
    (folder / "Export.csv").write_text(file.export + more, encoding="utf-8")
    return read_site(folder, now=NOW)


def grave(problems: tuple[Problem, ...]) -> list[Problem]:
    return [one for one in problems if one.severity is not Severity.NOTICE]


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.name)
def test_an_export_becomes_the_plan_that_the_schedule_would(tmp_path: Path, file: Exported) -> None:
    site, problems = read(tmp_path, file)
    assert grave(problems) == []
    assert site is not None
    plan = make_plan(site, problems, PlanRequest(day=DAY, now=NOW, with_chance=False))
    clock = site.settings.site_clock
    said = [
        (
            cart.case.number,
            f"{clock.wall(cart.case.start):%Y-%m-%d %H:%M}",
            cart.case.room,
            cart.case.minutes,
            cart.case.surgeon,
            cart.case.procedures,
            cart.case.side.value if cart.case.side else "",
        )
        for cart in plan.carts
    ]
    assert said == EXPECTED
    [notice] = [one for one in problems if one.kind == "read as export"]
    assert [words for words in file.said if words not in notice.message] == []
    everything = repr((site, problems, plan))
    assert [trace for trace in PATIENT if trace in everything] == []


def test_a_code_that_export_does_not_name_stops_its_case_alone(tmp_path: Path) -> None:
    data = SEMICOLONS.data.replace(b"OR 02", b"OR 07")
    _, problems = read(tmp_path, Exported(name=SEMICOLONS.name, data=data, export=SEMICOLONS.export, said=()))
    [wrong] = grave(problems)
    assert (wrong.kind, wrong.where.file, wrong.where.row, wrong.where.column) == (
        "unknown id",
        SEMICOLONS.name,
        3,
        "room",
    )
    assert wrong.cases == ("C-2",)


def test_an_end_before_the_start_of_its_day_is_no_case_of_a_day_and_a_night(tmp_path: Path) -> None:
    data = START_AND_END.data.decode("utf-16").replace("26 Nov 2026 14:05", "26 Nov 2026 12:05").encode("utf-16")
    _, problems = read(tmp_path, replace(START_AND_END, data=data))
    [wrong] = grave(problems)
    assert (wrong.kind, wrong.where.row, wrong.where.column, wrong.cases) == ("below zero", 4, "minutes", ("C-2",))


def test_a_case_that_ends_after_midnight_is_as_long_as_it_is(tmp_path: Path) -> None:
    data = START_AND_END.data.decode("utf-16").replace("26 Nov 2026 14:05", "27 Nov 2026 00:35").encode("utf-16")
    site, problems = read(tmp_path, replace(START_AND_END, data=data))
    assert grave(problems) == []
    assert site is not None
    assert [case.minutes for case in site.cases] == [90, 690]


def test_a_code_of_which_nobody_said_what_it_stands_for_is_counted(tmp_path: Path) -> None:
    """Two of three codes of sides say what they stand for; that of the third could have been forgotten."""
    site, problems = read(tmp_path, SEMICOLONS, "Seite,BIL,side,\n")
    [found] = [one for one in problems if one.kind == "not stated"]
    assert (found.severity, found.where.row, found.where.column) == (Severity.NOTICE, 18, "value")
    assert "value is not stated for 1 of 9 codes (row 18); they stand for nothing" in found.message
    assert site is not None


def test_a_header_that_was_renamed_is_named_with_the_one_meant(tmp_path: Path) -> None:
    data = TWELVE_HOURS.data.replace(b"Surgeon", b"Surgeons")
    _, problems = read(tmp_path, Exported(name=TWELVE_HOURS.name, data=data, export=TWELVE_HOURS.export, said=()))
    missing = [one for one in grave(problems) if one.kind == "missing column"]
    assert {one.where.row for one in missing} == {4}
    assert any(one.nearest == ("Surgeons",) for one in missing)


def test_a_value_that_schedule_could_not_say_is_a_problem_of_export(tmp_path: Path) -> None:
    _, problems = read(tmp_path, SEMICOLONS, "Saal,OR 9,room,OR 11\nSeite,X,side,leftt\n")
    assert [(one.where.file, one.where.column, one.kind) for one in grave(problems)] == [
        ("Export.csv", "value", "unknown id"),
        ("Export.csv", "value", "not a choice"),
    ]


def test_a_file_that_is_none_of_this_export_is_left_alone(tmp_path: Path) -> None:
    other = Exported(name="remarks.csv", data=b"a,b\n1,2\n", export=SEMICOLONS.export, said=())
    _, problems = read(tmp_path, other)
    assert {one.kind for one in problems if one.where.file == "remarks.csv"} == {"file not read"}
    assert any(one.kind == "missing table" and one.where.sheet == "Schedule" for one in grave(problems))
