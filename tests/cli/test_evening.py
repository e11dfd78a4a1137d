"""An evening and the day after by its commands: build, take down a cart, usage, stock and set states."""

from __future__ import annotations

import shutil
from pathlib import Path

import openpyxl
import pytest

from tests.cli.run import FINE, NOW, PROBLEMS, WRONG_USE, run
from tests.small_hospital import small_hospital
from tests.tasks.small_folder import write_folder

DAY = "2026-11-26"


@pytest.fixture(scope="module")
def evening(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """Three rooms of the sample hospital with their lists built once."""
    home = tmp_path_factory.mktemp("evening")
    site, out = small_hospital(home / "hospital"), home / "out"
    code, _, _ = run("build", str(site), "--now", NOW, "--out", str(out))
    assert code == FINE
    return site, out


def fill(form: Path, case: str, used: int) -> int:
    """Write that everything of a case was used so many times at most; how many lines that are."""
    book = openpyxl.load_workbook(form)
    sheet = book.worksheets[0]
    header = [cell.value for cell in sheet[3]]
    at = {name: n for n, name in enumerate(header)}
    lines = 0
    for row in sheet.iter_rows(min_row=4):
        if row[at["case"]].value == case:
            row[at["used"]].value = min(used, int(str(row[at["open"]].value or 0)))
            lines += 1
    book.save(form)
    return lines


def test_the_evening_and_the_day_after(evening: tuple[Path, Path], tmp_path: Path) -> None:
    site, out = evening
    scans = tmp_path / "scans.txt"
    scans.write_text("C-4105.R1\nBY mk\nDONE\n", encoding="utf-8")
    code, said, _ = run("scan", str(site), str(scans), "--now", "2026-11-25 19:10")
    assert code == FINE
    assert "C-4105: built by mk" in said

    form = shutil.copy(out / "used.xlsx", tmp_path / "used.xlsx")
    lines = fill(Path(form), "C-4105", used=1)
    code, said, told = run("used", str(site), str(form), "--day", DAY, "--now", "2026-11-26 16:00")
    assert code == FINE, told
    assert f"{lines} lines of 1 case recorded" in said

    before = {path.name: path.read_bytes() for path in site.iterdir() if path.is_file()}
    code, said, _ = run("settle", str(site), "--day", DAY, "--now", "2026-11-26 16:00")
    assert "MAJLAP" in said
    after = {path.name: path.read_bytes() for path in site.iterdir() if path.is_file()}
    assert after == before, "a look writes nothing"

    code, said, _ = run("settle", str(site), "--day", DAY, "--now", "2026-11-26 16:00", "--write")
    assert "Sets MAJLAP-01, state: on shelf -> dirty" in said
    assert "Sets MAJLAP-01, step since: empty -> Thu 26 Nov " in said, "a cell reads here as it does on the page"
    assert "None" not in said
    code, said, _ = run("check", str(site), "--now", "2026-11-26 16:00")
    assert code == FINE, said


def test_the_workbook_of_the_crew_is_taken_down(evening: tuple[Path, Path], tmp_path: Path) -> None:
    site, out = evening
    form = Path(shutil.copy(out / "carts.xlsx", tmp_path / "carts.xlsx"))
    book = openpyxl.load_workbook(form)
    sheet = book["Carts"]
    rows = list(sheet.iter_rows())
    head = next(row for row in rows if "done" in [cell.value for cell in row])
    at = {cell.value: n for n, cell in enumerate(head)}
    for row in rows:
        if row[at["case"]].value == "C-4109":
            row[at["done"]].value, row[at["by"]].value = "yes", "rt"
            row[at["remark"]].value = "bag torn"
        if row[at["case"]].value == "C-4110":
            row[at["done"]].value = "perhaps"
    book.save(form)
    code, said, told = run("carts", str(site), str(form), "--now", "2026-11-25 20:00")
    assert code == PROBLEMS
    assert "C-4109: built by rt\n  remark: bag torn\n" in said, "what was understood of the form is said"
    assert "column done: this is neither yes nor no" in told


def test_a_folder_without_lists_takes_nothing_down(tmp_path: Path) -> None:
    site = small_hospital(tmp_path / "hospital")
    scans = tmp_path / "scans.txt"
    scans.write_text("DONE\n", encoding="utf-8")
    code, _, told = run("scan", str(site), str(scans), "--now", NOW)
    assert code == WRONG_USE
    assert "no lists were built" in told


def test_a_change_is_tried_and_nothing_is_written(evening: tuple[Path, Path]) -> None:
    site, _ = evening
    before = {path.name: path.read_bytes() for path in site.iterdir() if path.is_file()}
    code, said, _ = run("try", str(site), "cancel 4121", "--now", NOW)
    assert code == FINE
    assert "gone: short, case C-4123" in said
    assert {path.name: path.read_bytes() for path in site.iterdir() if path.is_file()} == before
    code, said, _ = run("try", str(site), "swap 4111 and 4112", "--now", NOW)
    assert code == 1
    assert "NOT ALLOWED: case C-4112 may not move" in said
    assert "case C-4112 in OR 2: Thu 26 Nov 11:30 instead of 14:05" in said
    code, _, told = run("try", str(site), "move C-4112 to lunch", "--now", NOW)
    assert code == WRONG_USE
    assert "lunch" in told


def test_a_case_that_is_cancelled_already_is_said_to_be_that(tmp_path: Path) -> None:
    cases = [
        f"M{n},2026-11-26,OR {n},07:30,60,S{n},P1,none,{status}" for n, status in ((1, "cancelled"), (2, "planned"))
    ]
    site = write_folder(tmp_path / "site", *cases)
    code, _, told = run("try", str(site), "cancel M1", "--now", NOW)
    assert code == WRONG_USE
    assert "case M1 is cancelled on the schedule" in told


def test_what_is_remembered_comes_out_as_tables(evening: tuple[Path, Path], tmp_path: Path) -> None:
    site, _ = evening
    code, _, _ = run("records", str(site), "--out", str(tmp_path / "records"))
    assert code == FINE
    assert {"plan.csv", "built cart.csv"} <= {path.name for path in (tmp_path / "records").iterdir()}


def test_a_case_alone_is_explained_tray_by_tray(evening: tuple[Path, Path]) -> None:
    site, _ = evening
    for word in ("C-4112", "4112"):
        code, said, _ = run("why", str(site), word, "--now", NOW)
        assert code == FINE
        assert said.startswith("C-4112: OR 2, Thu 26 Nov 14:05")
        assert "Thyroid: THY-01, ready Thu 26 Nov 13:45 at usual pace" in said
        assert "10 min must be saved" in said
    code, _, told = run("why", str(site), "C-411", "--now", NOW)
    assert code == WRONG_USE
    assert "there is no case and no set C-411; did you mean" in told
