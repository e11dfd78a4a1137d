"""What an office did outside the boxes is seen and listed with its place, and never applied."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openpyxl.cell.rich_text import CellRichText, TextBlock
from openpyxl.cell.text import InlineFont
from openpyxl.chart import BarChart, Reference
from openpyxl.comments import Comment
from openpyxl.styles import Font, PatternFill
from openpyxl.worksheet.worksheet import Worksheet

from picklist.upkeep.office_compare import Comparison
from picklist.upkeep.write_back import write_back
from tests.upkeep.clinic import KNEE_BASE, read_clinic
from tests.upkeep.office import (
    ask_row,
    changes_of,
    fill_in,
    kinds_of,
    new_row,
    returned,
    row_of,
    send,
    take_back,
    write,
)
from tests.upkeep.test_office_book import convert, needs_libreoffice

YELLOW = PatternFill("solid", fgColor="FFFFFF00")


def seen(comparison: Comparison) -> list[tuple[str, str]]:
    """(kind, cell or sheet) of what was seen outside the boxes."""
    return [(one.kind, one.where.cell or one.where.sheet) for one in comparison.outside]


def comment(sheet: Any) -> None:
    sheet["C7"].comment = Comment("two of these please", "Office")


def colour(sheet: Any) -> None:
    for cell in sheet[7][:5]:
        cell.fill = YELLOW


def red_text(sheet: Any) -> None:
    sheet["B7"].font = Font(color="FFFF0000")


def strike(sheet: Any) -> None:
    sheet["B7"].font = Font(strike=True)


def strike_a_word(sheet: Any) -> None:
    sheet["E7"].value = CellRichText("left ", TextBlock(InlineFont(strike=True), "right"))


def text_beside(sheet: Any) -> None:
    sheet["L7"] = "please 3"


def text_below(sheet: Any) -> None:
    sheet["F60"] = "and a drain"


def text_above(sheet: Any) -> None:
    sheet["E1"] = "all with the left hand"


def over_locked(sheet: Any) -> None:
    sheet["H7"] = "never again"


def over_heading(sheet: Any) -> None:
    sheet["A3"] = "see my mail"


def another_kind(sheet: Any) -> None:
    sheet["A7"] = "tray" if sheet["A7"].value == "item" else "item"


def word_of_new_line(sheet: Any) -> None:
    sheet.cell(new_row(sheet), 6).value = "as Dr. Tarn has it"


def word_of_request(sheet: Any) -> None:
    sheet.cell(ask_row(sheet), 6).value = "urgent"


def only_what(sheet: Any) -> None:
    sheet.cell(new_row(sheet), 7).value = "side left"


def hide_row(sheet: Any) -> None:
    sheet.row_dimensions[7].hidden = True


def hide_column(sheet: Any) -> None:
    sheet.column_dimensions["E"].hidden = True


def swap_rows(sheet: Any) -> None:
    for column in range(1, 11):
        one, other = sheet.cell(6, column), sheet.cell(8, column)
        one.value, other.value = other.value, one.value


@pytest.mark.parametrize(
    ("deed", "kind", "cell"),
    [
        (comment, "comment", "C7"),
        (colour, "marked-by-hand", "A7"),
        (red_text, "marked-by-hand", "B7"),
        (strike, "marked-by-hand", "B7"),
        (text_beside, "outside-the-boxes", "L7"),
        (text_below, "outside-the-boxes", "F60"),
        (text_above, "outside-the-boxes", "E1"),
        (over_locked, "outside-the-boxes", "H7"),
        (over_heading, "outside-the-boxes", "A3"),
        (another_kind, "outside-the-boxes", "A7"),
        (word_of_new_line, "outside-the-boxes", "F11"),
        (word_of_request, "outside-the-boxes", "F24"),
        (only_what, "outside-the-boxes", "G11"),
        (hide_row, "hidden", "B7"),
        (hide_column, "hidden", "E5"),
        (swap_rows, "moved", "B7"),
    ],
)
def test_that_a_deed_outside_the_boxes_is_named_and_not_applied(
    clinic: Path, book: Path, tmp_path: Path, deed: Callable[[Any], None], kind: str, cell: str
) -> None:
    def fill(sheet: Worksheet) -> None:
        write(sheet, row_of(sheet, "100001"), open=5)
        deed(sheet)

    path = fill_in(book, fill)
    comparison = take_back(clinic, path)
    assert seen(comparison) == [(kind, cell)]
    assert changes_of(comparison) == {"100001": (5, 1)}
    assert comparison.goes_back
    assert not comparison.mistakes
    write_back(read_clinic(clinic), returned(path), comparison, tmp_path / "back.xlsx")
    answers = openpyxl.load_workbook(tmp_path / "back.xlsx")["Answers"]
    places = [(row[0].value, row[1].value) for row in answers.iter_rows()]
    assert ("KNEE", cell) in places


def test_that_a_word_struck_out_is_seen(clinic: Path, book: Path) -> None:
    comparison = take_back(clinic, fill_in(book, strike_a_word))
    assert seen(comparison) == [("marked-by-hand", "E7")]


def test_that_what_is_said_outside_is_never_repeated(clinic: Path, book: Path) -> None:
    """It could be a patient's name."""
    comparison = take_back(clinic, fill_in(book, text_beside))
    assert "please 3" not in repr(comparison.outside)


@pytest.mark.parametrize("header", ["C5", "E5", "F5", "G5", "B5"])
def test_that_a_renamed_header_is_a_problem_and_its_sheet_is_not_read(clinic: Path, book: Path, header: str) -> None:
    def fill(sheet: Any) -> None:
        write(sheet, row_of(sheet, "100001"), open=5, note="blue")
        sheet[header] = "Remarks"

    comparison = take_back(clinic, fill_in(book, fill))
    (problem,) = comparison.mistakes
    assert (problem.kind, problem.where.cell) == ("header-changed", header)
    assert not comparison.proposal.changes
    assert not comparison.outside


def test_that_sheets_added_copied_and_deleted_are_named(clinic: Path, tmp_path: Path) -> None:
    book = send(clinic, tmp_path / "base.xlsx", KNEE_BASE)
    workbook: Any = openpyxl.load_workbook(book)
    workbook.create_sheet("Wishes")["A1"] = "a chair"
    copied = workbook.copy_worksheet(workbook["KNEE"])
    write(copied, row_of(copied, "100001"), open=9)
    del workbook["Lists"]
    workbook.save(book)
    comparison = take_back(clinic, book)
    assert [one.kind for one in comparison.mistakes] == ["second-sheet"]
    assert sorted(seen(comparison)) == [("sheet-added", "Wishes"), ("sheet-missing", "")]
    assert not comparison.proposal.changes


def test_that_a_deleted_card_is_named_and_stays_as_it_is(clinic: Path, book: Path) -> None:
    workbook = openpyxl.load_workbook(book)
    del workbook["KNEE"]
    workbook.save(book)
    comparison = take_back(clinic, book)
    assert [one.kind for one in comparison.outside] == ["sheet-missing"]
    assert "KNEE" in comparison.outside[0].message
    assert not comparison.proposal.changes


def test_that_a_drawing_laid_over_a_card_is_named(clinic: Path, book: Path, tmp_path: Path) -> None:
    def lay(sheet: Any) -> None:
        chart = BarChart()
        chart.add_data(Reference(sheet, min_col=3, min_row=6, max_row=8))
        sheet.add_chart(chart, "D9")

    found = take_back(clinic, fill_in(book, lay))
    assert seen(found) == [("drawing", "D9")]
    back = tmp_path / "back.xlsx"
    write_back(read_clinic(clinic), returned(book), found, back)
    marked = openpyxl.load_workbook(back)["KNEE"]["D9"]
    assert marked.comment is not None, "the copy says on the card where something may be missing"
    assert "may not have it" in marked.comment.text
    assert [kind for kind, _ in seen(take_back(clinic, back))] in ([], ["drawing"]), "the note is known as ours"


def test_that_a_reply_on_the_sheet_of_answers_is_seen(clinic: Path, book: Path, tmp_path: Path) -> None:
    path = fill_in(book, lambda sheet: write(sheet, row_of(sheet, "100001"), open="many"))
    back = tmp_path / "back.xlsx"
    write_back(read_clinic(clinic), returned(path), take_back(clinic, path), back)
    untouched = take_back(clinic, back)
    assert not untouched.outside
    fill_in(back, lambda sheet: write(sheet, 5, open="four"), "Answers")
    assert seen(take_back(clinic, back)) == [("outside-the-boxes", "C5")]


def test_that_a_new_line_on_a_card_without_any_line_is_read(clinic: Path, book: Path) -> None:
    """Quill has nothing yet that counts for every procedure."""

    def fill(sheet: Worksheet) -> None:
        write(sheet, new_row(sheet), name="Drain 10 Fr (100008)", open=1)

    comparison = take_back(clinic, fill_in(book, fill, "Every procedure"))
    assert [(one.procedure, one.slot.thing) for one in comparison.proposal.changes] == [(None, "100008")]
    assert not comparison.outside


def test_that_an_offices_own_comment_stays_in_the_marked_copy(clinic: Path, book: Path, tmp_path: Path) -> None:
    def fill(sheet: Any) -> None:
        row = row_of(sheet, "100001")
        write(sheet, row, open="many")
        sheet.cell(row, 3).comment = Comment("ask me", "Office")

    path = fill_in(book, fill)
    write_back(read_clinic(clinic), returned(path), take_back(clinic, path), tmp_path / "back.xlsx")
    sheet: Any = openpyxl.load_workbook(tmp_path / "back.xlsx")["KNEE"]
    assert sheet.cell(row_of(sheet, "100001"), 3).comment.text == "ask me"


@needs_libreoffice
def test_that_a_workbook_saved_by_another_program_shows_nothing_outside(
    clinic: Path, book: Path, tmp_path: Path
) -> None:
    """Sent, filled in, marked, and saved again by LibreOffice at each step."""
    out = tmp_path / "saved"
    out.mkdir()
    path = fill_in(book, lambda sheet: write(sheet, row_of(sheet, "100001"), open="many"))
    convert(path, "xlsx", out)
    saved = out / path.name
    comparison = take_back(clinic, saved)
    assert not comparison.outside, comparison.outside
    assert kinds_of(comparison) == ["not a number"]
    back = tmp_path / "back.xlsx"
    write_back(read_clinic(clinic), returned(saved), comparison, back)
    convert(back, "xlsx", out)
    assert not take_back(clinic, out / "back.xlsx").outside
