"""Changed cells go into the site's own files: found by key, whole or not at all, the former file kept."""

from __future__ import annotations

import os
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.comments import Comment
from openpyxl.worksheet.datavalidation import DataValidation

from picklist.evening.apply import apply_changes
from picklist.evening.table_changes import TableChange
from picklist.tables.files import kept_folder
from tests.builders import at

NOW = at("20:00")
SINCE = datetime(2026, 11, 26, 9, 10)  # noqa: DTZ001 (a wall time)


@pytest.fixture
def site(tmp_path: Path) -> Path:
    folder = tmp_path / "north"
    folder.mkdir()
    book = Workbook()
    sheet: Any = book.active
    sheet.title = "Lots"
    sheet.append(["our own heading"])
    sheet.append(["Lot", "Item", "Quantity", "Expiry", "Place", "counted by"])
    sheet.append(["L1", "100245", 40, date(2027, 6, 30), "A-02-10", "ab"])
    sheet.append(["B7", "0077", 12, None, "A-01-01", "cd"])
    sheet["C3"].comment = Comment("two boxes", "ab")
    sheet.add_data_validation(DataValidation(type="whole", formula1="0", formula2="99", sqref="C3:C99"))
    sheet.column_dimensions["B"].width = 31
    book.create_sheet("Our notes").append(["keep me"])
    book.save(folder / "stock.xlsx")
    (folder / "Sets.csv").write_bytes(
        b'set;tray;state;step since;place\r\nKNEE-01;knee;on shelf;;S-01\r\nKNEE-02;knee;"on shelf";;S-01\r\n'
    )
    return folder


def lot(item: str = "100245", lot: str = "L1", place: str = "A-02-10", was: int = 40, becomes: int = 36) -> TableChange:
    return TableChange(table="Lots", key=(item, lot, place), column="quantity", was=was, becomes=becomes, why="used")


def knee(column: str, was: Any, becomes: Any) -> TableChange:
    return TableChange(table="Sets", key=("KNEE-01",), column=column, was=was, becomes=becomes, why="opened")


DIRTY = (knee("state", "on shelf", "dirty"), knee("step since", None, SINCE), knee("in case", "C-1", ""))


def test_that_a_cell_changes_and_all_else_in_the_workbook_stays(site: Path) -> None:
    applied = apply_changes(site, [lot()], NOW)
    assert (applied.done, applied.problems) == ((lot(),), ())
    book = load_workbook(site / "stock.xlsx")
    sheet = book["Lots"]
    assert [cell.value for cell in sheet["C"]] == [None, "Quantity", 36, 12]
    assert sheet["C3"].comment is not None
    assert sheet.column_dimensions["B"].width == 31
    assert len(sheet.data_validations.dataValidation) == 1
    assert book["Our notes"]["A1"].value == "keep me"


def test_that_the_former_file_is_kept_beside_the_folder(site: Path) -> None:
    before = (site / "stock.xlsx").read_bytes()
    (kept,) = apply_changes(site, [lot()], NOW).kept
    assert kept.parent == kept_folder(site)
    assert kept.read_bytes() == before
    assert {path.name for path in site.iterdir()} == {"stock.xlsx", "Sets.csv"}


def test_that_a_csv_file_keeps_its_separator_and_line_ends(site: Path) -> None:
    applied = apply_changes(site, DIRTY, NOW)
    assert applied.problems == ()
    assert (site / "Sets.csv").read_bytes() == (
        b"set;tray;state;step since;place\r\n"
        b"KNEE-01;knee;dirty;2026-11-26 09:10;S-01\r\n"
        b"KNEE-02;knee;on shelf;;S-01\r\n"
    )


def test_that_changes_made_already_count_as_done_and_touch_no_file(site: Path) -> None:
    apply_changes(site, [lot(), *DIRTY], NOW)
    before = {path.name: path.read_bytes() for path in site.iterdir()}
    again = apply_changes(site, [lot(), *DIRTY], NOW)
    assert set(again.done) == {lot(), *DIRTY}
    assert (again.problems, again.kept) == ((), ())
    assert {path.name: path.read_bytes() for path in site.iterdir()} == before


def test_that_a_row_counted_meanwhile_is_left_and_told_and_the_others_are_done(site: Path) -> None:
    applied = apply_changes(site, [lot(was=41), lot("0077", "B7", "A-01-01", 12, 10)], NOW)
    assert [c.key[0] for c in applied.done] == ["0077"]
    (problem,) = applied.problems
    assert (problem.kind, problem.where.cell, problem.value) == ("changed meanwhile", "C3", "40")


def test_that_a_set_changed_meanwhile_keeps_all_its_cells(site: Path) -> None:
    stale = (knee("state", "at step", "dirty"), knee("step since", None, SINCE))
    before = (site / "Sets.csv").read_bytes()
    applied = apply_changes(site, stale, NOW)
    assert applied.done == ()
    assert (site / "Sets.csv").read_bytes() == before


@pytest.mark.parametrize(
    ("change", "kind"),
    [
        (lot("999"), "no one row"),
        (
            TableChange(table="Sets", key=("KNEE-01",), column="return by", was=None, becomes=SINCE, why=""),
            "missing column",
        ),
    ],
)
def test_that_what_has_no_place_is_told(site: Path, change: TableChange, kind: str) -> None:
    assert [p.kind for p in apply_changes(site, [change], NOW).problems] == [kind]


def test_that_a_doubled_row_is_not_guessed_at(site: Path) -> None:
    with (site / "Sets.csv").open("ab") as file:
        file.write(b"knee-01;knee;on shelf;;S-02\r\n")
    assert [p.kind for p in apply_changes(site, DIRTY, NOW).problems] == ["no one row"]


def test_that_a_file_which_cannot_be_written_is_as_it_was(site: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(_self: Path, _target: Path) -> Path:
        raise PermissionError(13, "Permission denied", "stock.xlsx")

    before = (site / "stock.xlsx").read_bytes()
    monkeypatch.setattr(Path, "replace", refuse)
    applied = apply_changes(site, [lot()], NOW)
    assert (applied.done, [p.kind for p in applied.problems]) == ((), ["cannot write"])
    assert (site / "stock.xlsx").read_bytes() == before
    assert {path.name for path in site.iterdir()} == {"stock.xlsx", "Sets.csv"}


def test_that_a_run_killed_between_two_files_is_finished_by_the_next(
    site: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = os.replace
    calls: list[str] = []

    def die_at_the_second(self: Path, target: Path) -> Path:
        calls.append(target.name)
        if len(calls) == 2:
            raise KeyboardInterrupt
        real(self, target)
        return target

    monkeypatch.setattr(Path, "replace", die_at_the_second)
    with pytest.raises(KeyboardInterrupt):
        apply_changes(site, [lot(), *DIRTY], NOW)
    monkeypatch.undo()
    applied = apply_changes(site, [lot(), *DIRTY], NOW)
    assert set(applied.done) == {lot(), *DIRTY}
    assert load_workbook(site / "stock.xlsx")["Lots"]["C3"].value == 36
    assert b"KNEE-01;knee;dirty" in (site / "Sets.csv").read_bytes()
