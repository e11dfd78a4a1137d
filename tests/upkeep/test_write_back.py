"""Clashes and mistakes go back in the same workbook, and nothing valid is typed twice."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openpyxl.worksheet.worksheet import Worksheet

from picklist.upkeep.approval import apply_approval
from picklist.upkeep.proposals import approve_proposal
from picklist.upkeep.write_back import write_back
from tests.upkeep.clinic import NOW, QUILL, approval, change, item, read_clinic, vane, wanted
from tests.upkeep.office import (
    ask_row,
    changes_of,
    fill_in,
    kinds_of,
    new_row,
    returned,
    row_of,
    save_as_csv,
    take_back,
    write,
)


def fill(sheet: Worksheet) -> None:
    """One line good, one with a mistake, one new line that nobody knows, one request."""
    write(sheet, row_of(sheet, "100007"), open=3)
    write(sheet, row_of(sheet, "100001"), open="many")
    write(sheet, new_row(sheet), name="Drian 10 Fr", open=1)
    write(sheet, ask_row(sheet), name="Soft retractor", open=1)


def go_back(clinic: Path, path: Path, target: Path) -> Path:
    write_back(read_clinic(clinic), returned(path), take_back(clinic, path), target)
    return target


@pytest.mark.parametrize("as_csv", [False, True])
def test_that_mistakes_are_marked_noted_and_listed(clinic: Path, book: Path, tmp_path: Path, as_csv: bool) -> None:
    path = fill_in(book, fill)
    path = save_as_csv(path, tmp_path / "saved.csv") if as_csv else path
    workbook = openpyxl.load_workbook(go_back(clinic, path, tmp_path / "back.xlsx"))
    sheet, answers = workbook["KNEE"], workbook["Answers"]
    assert str(answers["A2"].value).startswith("1 change taken in; 2 to fix and 0 to answer")
    cell: Any = sheet.cell(row_of(sheet, "100001"), 3)
    assert cell.value == "many"
    assert cell.border.left.style == "thick"
    assert "not a number" in cell.comment.text
    unknown: Any = sheet.cell(new_row(sheet), 2)
    assert unknown.value == "Drian 10 Fr"
    assert "Drain 10 Fr (100008)" in unknown.comment.text
    listed = [[cell.value for cell in row] for row in answers.iter_rows(min_row=5, max_row=6, max_col=3)]
    assert listed == [["KNEE", cell.coordinate, None], ["KNEE", unknown.coordinate, "Drian 10 Fr"]]
    texts = [str(row[0].value) for row in answers.iter_rows(max_col=1)]
    assert any("changed: Suture 3-0 (100007), 1 open -> Suture 3-0 (100007), 3 open" in text for text in texts)
    assert any("Soft retractor" in text for text in texts)
    assert workbook.sheetnames.index("Answers") == 1


@pytest.mark.parametrize("as_csv", [False, True])
def test_that_mending_the_marked_cells_is_enough(clinic: Path, book: Path, tmp_path: Path, as_csv: bool) -> None:
    path = fill_in(book, fill)
    path = save_as_csv(path, tmp_path / "saved.csv") if as_csv else path
    back = go_back(clinic, path, tmp_path / "back.xlsx")

    def mend(sheet: Worksheet) -> None:
        write(sheet, row_of(sheet, "100001"), open=4)
        write(sheet, new_row(sheet), name="Drain 10 Fr (100008)")

    comparison = take_back(clinic, fill_in(back, mend))
    assert changes_of(comparison) == {"100007": (3, 0), "100001": (4, 1), "100008": (1, 0)}
    assert not comparison.problems
    again = openpyxl.load_workbook(go_back(clinic, back, tmp_path / "again.xlsx"))
    marked = [cell for row in again["KNEE"].iter_rows() for cell in row if cell.comment]
    assert not marked
    assert again["Answers"]["A4"].value == "Nothing to fix."


@pytest.mark.parametrize("as_csv", [False, True])
def test_that_what_seems_to_tell_of_a_patient_is_not_in_the_marked_copy(
    clinic: Path, book: Path, tmp_path: Path, as_csv: bool
) -> None:
    def tell(sheet: Worksheet) -> None:
        write(sheet, row_of(sheet, "100001"), open="many", note="for Mr. Testman, MRN 88412345")
        write(sheet, row_of(sheet, "100007"), note="the long one")
        if not as_csv:
            sheet.cell(sheet.max_row + 3, 2).value = "DOB 03/04/1956"

    path = fill_in(book, tell)
    path = save_as_csv(path, tmp_path / "saved.csv") if as_csv else path
    workbook = openpyxl.load_workbook(go_back(clinic, path, tmp_path / "back.xlsx"))
    texts = {str(cell.value) for sheet in workbook for row in sheet.iter_rows() for cell in row}
    assert {"many", "the long one"} <= texts
    assert not [text for text in texts if "Testman" in text or "88412345" in text or "1956" in text]


def clash_book(clinic: Path, book: Path, tmp_path: Path) -> Path:
    """The office wants 5; meanwhile the card says 9; the workbook goes back."""
    apply_approval(clinic, approval(QUILL, change(clinic, QUILL, "100001", item("100001", 9))), now=NOW)
    fill_in(book, lambda sheet: write(sheet, row_of(sheet, "100001"), open=5))
    assert kinds_of(take_back(clinic, book)) == ["clash"]
    return go_back(clinic, book, tmp_path / "back.xlsx")


def test_that_an_unanswered_clash_stays_one(clinic: Path, book: Path, tmp_path: Path) -> None:
    back = clash_book(clinic, book, tmp_path)
    comparison = take_back(clinic, back)
    assert kinds_of(comparison) == ["clash"]
    assert not comparison.proposal.changes


def test_that_cells_merged_on_the_hidden_sheet_of_stamps_are_no_hindrance(
    clinic: Path, book: Path, tmp_path: Path
) -> None:
    """A mistake and a clash go back, and come back as the same, though half of the stamps are gone."""
    apply_approval(clinic, approval(QUILL, change(clinic, QUILL, "100007", item("100007", 5))), now=NOW)
    path = fill_in(fill_in(book, fill), lambda sheet: sheet.merge_cells("A1:B9"), "Stamp")
    before = take_back(clinic, path)
    assert before.clashes
    again = take_back(clinic, go_back(clinic, path, tmp_path / "back.xlsx"))
    assert kinds_of(again) == kinds_of(before)


def test_that_an_office_can_insist(clinic: Path, book: Path, tmp_path: Path) -> None:
    back = clash_book(clinic, book, tmp_path)
    fill_in(back, lambda sheet: write(sheet, row_of(sheet, "100001"), word="mine counts"))
    comparison = take_back(clinic, back)
    assert changes_of(comparison) == {"100001": (5, 1)}
    apply_approval(
        clinic,
        approve_proposal(comparison.proposal, vane(reason="agreed")),
        now=NOW,
    )
    assert wanted(clinic, QUILL)["100001"] == (5, 1)


def test_that_an_office_can_give_way(clinic: Path, book: Path, tmp_path: Path) -> None:
    back = clash_book(clinic, book, tmp_path)
    fill_in(back, lambda sheet: write(sheet, row_of(sheet, "100001"), open=9, hold=0))
    comparison = take_back(clinic, back)
    assert not comparison.proposal.changes
    assert not comparison.problems


def test_that_a_third_change_meanwhile_is_a_clash_again(clinic: Path, book: Path, tmp_path: Path) -> None:
    back = clash_book(clinic, book, tmp_path)
    apply_approval(clinic, approval(QUILL, change(clinic, QUILL, "100001", item("100001", 8))), now=NOW)
    fill_in(back, lambda sheet: write(sheet, row_of(sheet, "100001"), word="mine counts"))
    assert kinds_of(take_back(clinic, back)) == ["clash"]


def test_that_a_new_line_that_somebody_else_added_meanwhile_is_answered(
    clinic: Path, book: Path, tmp_path: Path
) -> None:
    apply_approval(clinic, approval(QUILL, change(clinic, QUILL, "100008", item("100008", 2))), now=NOW)
    fill_in(book, lambda sheet: write(sheet, new_row(sheet), name="Drain 10 Fr (100008)", open=1))
    assert kinds_of(take_back(clinic, book)) == ["clash"]
    back = go_back(clinic, book, tmp_path / "back.xlsx")
    fill_in(back, lambda sheet: write(sheet, row_of(sheet, "100008"), word="mine counts"))
    assert changes_of(take_back(clinic, back)) == {"100008": (1, 0)}
