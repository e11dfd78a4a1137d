"""What an export means is learned once, from the bare file to the plan, and nothing of a patient stays."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import openpyxl
import pytest
from openpyxl.styles import Font
from openpyxl.worksheet.worksheet import Worksheet

from picklist.problems import Severity
from picklist.tables.write import write_tables
from picklist.tasks.build import plan_day
from picklist.tasks.errors import WrongUse
from picklist.tasks.own_export import TAKEN_AS, is_export, learn_export, look_at_export, take_export, with_codes
from picklist.tasks.read_folder import load_folder
from tests.cli.run import FINE, PROBLEMS, WRONG_USE, run
from tests.inputs.exports import EXPECTED, FILES, PLAIN_SHEET, SEMICOLONS, TWELVE_HOURS, Exported
from tests.inputs.folders import sound_rows
from tests.inputs.test_exports import PATIENT

NOW = datetime(2026, 11, 25, 18, 0)  # noqa: DTZ001 - the site's wall time
SAID = {"saal_2026-11-26.csv": "Fall=case;Datum=day;Saal=room;Beginn=start;Dauer (h)=hours;Operateur=surgeon;"
        "Eingriff=procedures;Seite=side"}  # fmt: skip


def site_and_file(folder: Path, file: Exported) -> tuple[Path, Path]:
    """A site without a schedule, and the export beside it."""
    rows = sound_rows()
    del rows["Schedule"]
    rows["Settings"].append({"setting": "date order", "value": "month first"})
    write_tables(folder / "site", rows)
    (folder / file.name).write_bytes(file.data)
    return folder / "site", folder / file.name


def learned(folder: Path, file: Exported) -> Path:
    site, path = site_and_file(folder, file)
    said = dict(one.split("=") for one in SAID.get(file.name, "").split(";") if one)
    look = look_at_export(site, path, {header: (means,) for header, means in said.items()})
    learn_export(site, look, with_codes(look, {}), NOW)
    take_export(site, look, NOW)
    return site


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.name)
def test_a_bare_export_is_learned_and_becomes_the_plan(tmp_path: Path, file: Exported) -> None:
    site = learned(tmp_path, file)
    problems = [one for one in load_folder(site, NOW).problems if one.severity is not Severity.NOTICE]
    assert problems == []
    plan = plan_day(site, NOW, with_chance=False)
    cases = [cart.case for cart in plan.carts]
    assert [(one.number, one.room, one.minutes, one.surgeon, one.procedures) for one in cases] == [
        (number, room, minutes, surgeon, procedures) for number, _, room, minutes, surgeon, procedures, _ in EXPECTED
    ]
    starts = [f"{plan.settings.site_clock.wall(one.start):%Y-%m-%d %H:%M}" for one in cases]
    assert starts == [start for _, start, *_ in EXPECTED]
    kept = b"".join(path.read_bytes() for path in site.iterdir() if path.suffix == ".csv").decode("utf-8")
    assert [trace for trace in PATIENT if trace in kept] == []


def test_the_next_evening_asks_nothing_and_takes_the_place_of_the_last(tmp_path: Path) -> None:
    site = learned(tmp_path, TWELVE_HOURS)
    (tmp_path / "tomorrow.csv").write_bytes(TWELVE_HOURS.data.replace(b"C-2", b"C-9"))
    look = look_at_export(site, tmp_path / "tomorrow.csv")
    assert all(one.learned for one in look.columns if one.means)
    assert (look.lacking, look.guesses) == ((), ())
    assert learn_export(site, look, (), NOW) == 0
    take_export(site, look, NOW)
    loaded = load_folder(site, NOW)
    assert loaded.site is not None
    assert [one.number for one in loaded.site.cases] == ["C-1", "C-9"]
    assert (site / TAKEN_AS).is_file()


def test_an_export_whose_rows_are_swallowed_by_an_open_quote_is_refused(tmp_path: Path) -> None:
    site = learned(tmp_path, TWELVE_HOURS)
    (tmp_path / "tomorrow.csv").write_bytes(TWELVE_HOURS.data + b'\n"' + b"C-9,OR 1\n" * 60)
    with pytest.raises(WrongUse, match=r"a quotation mark in row \d+ is never closed"):
        look_at_export(site, tmp_path / "tomorrow.csv")


def sheet_with_alerts(book: openpyxl.Workbook) -> Worksheet:
    """The first sheet of the plain export, with a header for alerts."""
    sheet = book.worksheets[0]
    sheet.cell(2, 10, "Alerts")
    return sheet


def alerts_that_cannot_be_read(book: openpyxl.Workbook) -> None:
    sheet_with_alerts(book).cell(3, 10, "#N/A").data_type = "e"


def second_sheet(book: openpyxl.Workbook) -> None:
    book.copy_worksheet(sheet_with_alerts(book))


def hide_and_strike(book: openpyxl.Workbook) -> None:
    sheet = sheet_with_alerts(book)
    sheet.row_dimensions[4].hidden = True
    sheet["B3"].font = Font(strike=True)


def changed_book(folder: Path, change: Callable[[openpyxl.Workbook], None]) -> tuple[Path, Path]:
    """A site without a schedule, and the plain export after a change."""
    site, path = site_and_file(folder, PLAIN_SHEET)
    book = openpyxl.load_workbook(path)
    change(book)
    book.save(path)
    return site, path


def test_an_alert_that_the_spreadsheet_shows_as_an_error_is_not_taken_for_none(tmp_path: Path) -> None:
    site, path = changed_book(tmp_path, alerts_that_cannot_be_read)
    look = look_at_export(site, path)
    learn_export(site, look, with_codes(look, {}), NOW)
    take_export(site, look, NOW)
    loaded = load_folder(site, NOW)
    assert loaded.site is not None
    assert [one.alerts for one in loaded.site.cases] == [("#n/a",), ()]


def test_cases_on_two_sheets_are_not_taken_in_by_half(tmp_path: Path) -> None:
    site, path = changed_book(tmp_path, second_sheet)
    assert is_export(site, path)
    with pytest.raises(WrongUse, match=r"2 sheets of .* have the same headers"):
        look_at_export(site, path)


def test_hidden_and_struck_rows_of_an_export_are_said(tmp_path: Path) -> None:
    site, path = changed_book(tmp_path, hide_and_strike)
    assert look_at_export(site, path).dialect == (
        "1 row hidden, read as any other",
        "1 row struck through, read as any other",
    )


def test_a_new_code_goes_into_the_table_that_is_there(tmp_path: Path) -> None:
    site = learned(tmp_path, PLAIN_SHEET)
    book = site / "export.xlsx"
    before = book.read_bytes()
    (tmp_path / "next.csv").write_bytes(
        b"Booking #,Surgery date,Suite,Wheels in,Est. min,Provider,Procedure(s),Side\n"
        b"C-5,2026-11-26,OR 002,0800,60,Dr. Tarn,HERNIA REPAIR,-\n"
    )
    look = look_at_export(site, tmp_path / "next.csv")
    assert {(one.code, one.value, one.sure) for one in look.guesses} == {
        ("OR 002", "OR 2", True),
        ("Dr. Tarn", "S02", True),
    }
    assert learn_export(site, look, with_codes(look, {}), NOW) == 2
    assert book.read_bytes() != before
    assert look_at_export(site, tmp_path / "next.csv").guesses == ()


def test_two_surgeons_of_one_surname_are_not_guessed(tmp_path: Path) -> None:
    site, path = site_and_file(tmp_path, TWELVE_HOURS)
    (site / "Staff.csv").write_text("person,name\nS77,Dr. Ada Quill\n", encoding="utf-8")
    look = look_at_export(site, path)
    assert [one for one in look.guesses if one.code == "QUILL" and one.sure] == []
    codes = with_codes(look, {("Surgeon", "QUILL"): "S77"})
    assert ("QUILL", "S77") in {(one.code, one.value) for one in codes}


def test_only_a_schedule_is_taken_for_one(tmp_path: Path) -> None:
    site, path = site_and_file(tmp_path, TWELVE_HOURS)
    assert is_export(site, path)
    other = tmp_path / "prices.csv"
    other.write_text("item,price,unit\n100001,4.20,each\n", encoding="utf-8")
    assert not is_export(site, other)
    with pytest.raises(WrongUse, match="no header means"):
        learn_export(site, look_at_export(site, other), (), NOW)


def test_the_command_shows_first_and_writes_with_keep(tmp_path: Path) -> None:
    site, path = site_and_file(tmp_path, SEMICOLONS)
    code, said, _ = run("headers", str(site), str(path))
    assert code == PROBLEMS
    assert "Still needed: case, day, room" in said
    means = [word for one in SAID[SEMICOLONS.name].split(";") for word in ("--means", one)]
    code, said, _ = run("headers", str(site), str(path), *means)
    assert code == FINE
    assert "Saal: room" in said
    assert "Wrenfield" not in said
    assert {one.name for one in site.iterdir()} & {"export.xlsx", TAKEN_AS} == set()
    code, said, _ = run("headers", str(site), str(path), *means, "--keep")
    assert code == FINE
    assert TAKEN_AS in said
    assert run("check", str(site), "--now", "2026-11-25 18:00")[0] == FINE
    code, _, wrong = run("headers", str(site), str(path), "--means", "Saal=rom")
    assert code == WRONG_USE
    assert "did you mean room?" in wrong
