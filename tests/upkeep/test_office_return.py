"""What an office writes is understood, whatever happened to the file on its way."""

from __future__ import annotations

import random
from datetime import datetime, time
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openpyxl.worksheet.worksheet import Worksheet

from picklist.tables.write import write_tables
from picklist.upkeep.approval import apply_approval
from picklist.upkeep.change_log import cards_state
from picklist.upkeep.office_book import write_office_workbook
from picklist.upkeep.office_compare import Comparison, compare_return
from picklist.upkeep.office_return import read_office_workbook
from picklist.upkeep.proposals import approve_proposal
from picklist.upkeep.slots import RowKey, RowValue
from picklist.upkeep.stamps import find_stamp, keep_stamp
from picklist.upkeep.write_back import write_back
from tests.inputs.folders import sound_rows
from tests.upkeep.clinic import (
    CARDS,
    DAY,
    ITEM,
    ITEMS,
    KNEE_BASE,
    NOW,
    QUILL,
    TARN,
    TRAY,
    approval,
    change,
    item,
    read_clinic,
    vane,
    wanted,
    write_clinic,
)
from tests.upkeep.office import (
    ask_row,
    changes_of,
    fill_in,
    kinds_of,
    new_row,
    returned,
    row_of,
    save_as_csv,
    send,
    take_back,
    write,
)


def fill_usual(sheet: Worksheet) -> None:
    """More sutures, no tray, the dropped sponges back, and a drain."""
    write(sheet, row_of(sheet, "100001"), open=5)
    write(sheet, row_of(sheet, "T-KNEE"), word="No longer ")
    write(sheet, row_of(sheet, "100002"), open=2, word=None)
    write(sheet, new_row(sheet), name="Drain 10 Fr (100008)", open=1)


USUAL = {"100001": (5, 1), "T-KNEE": None, "100002": (2, 0), "100008": (1, 0)}


def test_that_a_workbook_left_alone_changes_nothing(clinic: Path, book: Path) -> None:
    comparison = take_back(clinic, book)
    assert not comparison.proposal.changes
    assert not comparison.problems


def test_that_changes_become_a_proposal(clinic: Path, book: Path) -> None:
    comparison = take_back(clinic, fill_in(book, fill_usual))
    assert changes_of(comparison) == USUAL
    assert [one.verb for one in comparison.proposal.changes] == ["added", "added", "removed", "changed"]
    assert not comparison.problems


def test_that_a_renamed_file_with_renamed_sheets_is_known(clinic: Path, book: Path, tmp_path: Path) -> None:
    workbook = openpyxl.load_workbook(fill_in(book, fill_usual))
    workbook["KNEE"].title = "knees, new"
    workbook.save(tmp_path / "copy of cards (2).xlsx")
    assert changes_of(take_back(clinic, tmp_path / "copy of cards (2).xlsx")) == USUAL


@pytest.mark.parametrize("seed", range(5))
def test_that_sorted_rows_are_known(clinic: Path, book: Path, seed: int) -> None:
    def sort_rows(sheet: Worksheet) -> None:
        fill_usual(sheet)
        _reorder(sheet, seed, columns=range(1, 11))

    assert changes_of(take_back(clinic, fill_in(book, sort_rows))) == USUAL


@pytest.mark.parametrize("seed", range(5))
def test_that_a_sort_that_left_the_hidden_columns_behind_is_no_change(clinic: Path, book: Path, seed: int) -> None:
    def sort_seen(sheet: Worksheet) -> None:
        fill_usual(sheet)
        _reorder(sheet, seed, columns=range(1, 9))

    assert changes_of(take_back(clinic, fill_in(book, sort_seen))) == USUAL


def _reorder(sheet: Worksheet, seed: int, columns: range) -> None:
    last = new_row(sheet, 3)
    rows = [[sheet.cell(n, column).value for column in columns] for n in range(6, last + 1)]
    random.Random(seed).shuffle(rows)
    for number, row in enumerate(rows, start=6):
        for column, value in zip(columns, row, strict=True):
            sheet.cell(number, column).value = value


def test_that_inserted_rows_and_columns_do_no_harm(clinic: Path, book: Path) -> None:
    def insert(sheet: Worksheet) -> None:
        fill_usual(sheet)
        sheet.insert_rows(8, 2)
        sheet.insert_rows(1, 3)
        sheet.insert_cols(3)

    assert changes_of(take_back(clinic, fill_in(book, insert))) == USUAL


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_that_one_sheet_saved_as_csv_is_enough(clinic: Path, book: Path, tmp_path: Path, delimiter: str) -> None:
    saved = save_as_csv(fill_in(book, fill_usual), tmp_path / "knee export.csv", delimiter=delimiter)
    assert changes_of(take_back(clinic, saved)) == USUAL


def test_that_a_file_without_hidden_cells_is_known_by_the_version_that_it_shows(clinic: Path, tmp_path: Path) -> None:
    """A program that drops hidden columns saves what can be seen; the stamp was kept with the site."""
    path = tmp_path / "quill.xlsx"
    stamp = write_office_workbook(read_clinic(clinic), QUILL, path, day=DAY)
    bare = save_as_csv(fill_in(path, fill_usual), tmp_path / "bare.csv", keep=8)
    with cards_state(clinic) as state, state.writing() as db:
        keep_stamp(db, stamp)
        found, _ = read_office_workbook(bare, known=lambda version: find_stamp(db, version))
    assert found is not None
    assert changes_of(compare_return(read_clinic(clinic), found, DAY)) == USUAL
    unknown, problems = read_office_workbook(bare)
    assert unknown is None
    assert [problem.kind for problem in problems] == ["no-stamp"]


def test_that_a_row_without_its_mark_is_known_by_the_hidden_key_of_its_line(clinic: Path, book: Path) -> None:
    """The mark of a line was cleared and another thing written there, which takes the place of the first."""

    def put_a_drain(sheet: Worksheet) -> None:
        row = row_of(sheet, "100001")
        sheet.cell(row, 10).value = None
        write(sheet, row, name="Drain 10 Fr (100008)")

    comparison = take_back(clinic, fill_in(book, put_a_drain))
    (made,) = comparison.proposal.changes
    assert made.before is not None
    assert (made.before.thing, changes_of(comparison)) == ("100001", {"100008": (made.before.open, made.before.hold)})
    assert not comparison.problems


def test_that_a_missing_row_drops_nothing_and_is_named(clinic: Path, book: Path) -> None:
    comparison = take_back(clinic, fill_in(book, lambda sheet: sheet.delete_rows(row_of(sheet, "100001"))))
    assert not comparison.proposal.changes
    assert kinds_of(comparison) == ["row-missing"]


def test_that_a_thing_may_be_typed_by_number_or_by_name(clinic: Path, book: Path) -> None:
    def fill(sheet: Worksheet) -> None:
        write(sheet, new_row(sheet), name=100008, open="1")
        write(sheet, new_row(sheet, 1), name="mini SET", hold=1)

    assert changes_of(take_back(clinic, fill_in(book, fill))) == {"100008": (1, 0), "T-MINI": (0, 1)}


def test_that_another_thing_in_a_row_takes_the_place_of_the_base_line(clinic: Path, book: Path) -> None:
    comparison = take_back(
        clinic, fill_in(book, lambda sheet: write(sheet, row_of(sheet, "100001"), name="Drain 10 Fr (100008)"))
    )
    (one,) = comparison.proposal.changes
    assert (one.slot, one.after) == (RowKey(kind=ITEM, thing="100001"), item("100008", 2, 1))


def test_that_an_added_line_may_count_for_one_side_only(clinic: Path, book: Path) -> None:
    comparison = take_back(
        clinic,
        fill_in(book, lambda sheet: write(sheet, new_row(sheet), name="100008", open=1, when="side left; alert latex")),
    )
    (one,) = comparison.proposal.changes
    assert one.slot.side == "left"
    assert [(c.kind, c.value) for c in one.slot.only_if] == [("alert", "latex")]


@pytest.mark.parametrize(
    ("written", "nearest"),
    [("alert metall", "alert metal"), ("not size children", "not size child"), ("alert latx", "alert latex")],
)
def test_that_a_condition_close_to_one_of_the_cards_goes_back(
    clinic: Path, book: Path, written: str, nearest: str
) -> None:
    master = openpyxl.load_workbook(clinic / "cards.xlsx")
    sheet = master["Cards"]
    column = next(cell.column for cell in sheet[1] if cell.value == "only if")
    sheet.cell(2, column).value = "alert metal; not size child"
    master.save(clinic / "cards.xlsx")
    returned = fill_in(book, lambda s: write(s, new_row(s), name="100008", open=1, when=written))
    (mistake,) = take_back(clinic, returned).mistakes
    assert (mistake.kind, mistake.nearest) == ("near word", (nearest,))


def test_that_what_is_not_in_the_catalogue_is_asked_for(clinic: Path, book: Path) -> None:
    comparison = take_back(
        clinic,
        fill_in(book, lambda s: write(s, ask_row(s), name="Soft retractor, number 12", open=2, note="slips less")),
    )
    (request,) = comparison.proposal.requests
    assert (request.procedure, request.text, request.open, request.why) == (
        "KNEE",
        "Soft retractor, number 12",
        "2",
        "slips less",
    )


@pytest.mark.parametrize(
    ("cells", "nearest"),
    [
        ({"open": "two"}, ("2",)),
        ({"open": "2-3"}, ("2", "3")),
        ({"hold": "1 ea"}, ("1",)),
        ({"hold": -1}, ("1", "0")),
        ({"open": "none"}, ("0",)),
        ({"open": "stop"}, ("0",)),
        ({"word": "stop"}, ("no longer",)),
        ({"word": "none"}, ("no longer",)),
        ({"open": "1,0"}, ("1",)),
        ({"open": time(2, 3)}, ()),
        ({"open": datetime(2026, 1, 2)}, ("1", "2")),  # noqa: DTZ001 (a day; "2-1" was typed)
        ({"open": "2-Jan"}, ("1", "2")),
    ],
)
def test_that_a_quantity_that_is_none_is_answered_with_the_nearest(
    clinic: Path, book: Path, cells: dict[str, object], nearest: tuple[str, ...]
) -> None:
    comparison = take_back(clinic, fill_in(book, lambda sheet: write(sheet, row_of(sheet, "100001"), **cells)))
    (problem,) = comparison.mistakes
    assert problem.nearest == nearest
    assert not comparison.proposal.changes


@pytest.mark.parametrize("area", ["B7:B8", "C7:D7", "A6:J6", "A7:J9", "B5:C6", "I7:J8", "A1:H1"])
def test_that_merged_cells_are_a_problem_with_a_place(clinic: Path, book: Path, tmp_path: Path, area: str) -> None:
    path = fill_in(book, lambda sheet: sheet.merge_cells(area))
    comparison = take_back(clinic, path)
    inside = area not in ("I7:J8", "A1:H1", "B5:C6")
    merged = [one for one in comparison.mistakes if one.kind.replace(" ", "-") == "merged-cell"]
    assert bool(merged) == inside
    assert all(area in one.message and one.where.cell for one in merged)
    assert not comparison.proposal.changes
    write_back(read_clinic(clinic), returned(path), comparison, tmp_path / "back.xlsx")
    assert openpyxl.load_workbook(tmp_path / "back.xlsx")["KNEE"].merged_cells.ranges


def test_that_a_workbook_with_the_ending_of_an_older_kind_is_read(clinic: Path, book: Path, tmp_path: Path) -> None:
    path = fill_in(book, lambda sheet: write(sheet, row_of(sheet, "100001"), open=5, hold="many"))
    old = path.rename(tmp_path / "quill.xls")
    comparison = take_back(clinic, old)
    assert kinds_of(comparison) == ["not a number"]
    write_back(read_clinic(clinic), returned(old), comparison, tmp_path / "back.xlsx")
    assert "Answers" in openpyxl.load_workbook(tmp_path / "back.xlsx").sheetnames


@pytest.mark.parametrize(
    ("thing", "cells", "kind", "column"),
    [
        ("100001", {"open": "two"}, "not-a-number", "Open"),
        ("100001", {"open": 1.5}, "not-whole", "Open"),
        ("100001", {"hold": -1}, "below-zero", "Hold"),
        ("100001", {"open": 5000}, "too-large", "Open"),
        ("100001", {"open": None, "hold": None}, "no-quantity", "Open"),
        ("100001", {"word": "nolonger please"}, "not-a-choice", "Keep or drop"),
        ("100001", {"word": "no longer", "open": 7}, "dropped-with-quantity", "Keep or drop"),
        ("100001", {"name": "Drain 11 Fr"}, "unknown-thing", "Name (number)"),
        ("100001", {"name": "Drain 10 Fr (100007)"}, "name-and-number-differ", "Name (number)"),
        ("100001", {"name": "Suture 3-0 (100007)"}, "stands-twice", "Name (number)"),
        ("100001", {"name": None, "open": None, "hold": None}, "row-emptied", "Name (number)"),
        ("100001", {"when": "side left"}, "condition-changed", "Only when"),
        ("100001", {"note": "for Mrs Example, MRN 12345678"}, "private-text", "Note"),
        ("100001", {"note": "x" * 400}, "too-long", "Note"),
    ],
)
def test_that_a_mistake_is_named_with_its_cell(
    clinic: Path, book: Path, thing: str, cells: dict[str, object], kind: str, column: str
) -> None:
    comparison = take_back(clinic, fill_in(book, lambda sheet: write(sheet, row_of(sheet, thing), **cells)))
    (problem,) = comparison.problems
    assert (problem.kind.replace(" ", "-"), problem.where.column) == (kind, column)
    assert problem.where.cell
    assert not comparison.proposal.changes


def test_that_a_new_line_of_an_unknown_kind_is_named_with_its_cell(clinic: Path, book: Path) -> None:
    def add(sheet: Worksheet) -> None:
        write(sheet, new_row(sheet), what="instrument", name="Drain 10 Fr (100008)", open=1)

    (problem,) = take_back(clinic, fill_in(book, add)).problems
    assert (problem.kind, problem.where.column) == ("not a choice", "What")


def test_that_a_near_miss_is_answered_with_what_was_meant(clinic: Path, book: Path) -> None:
    comparison = take_back(clinic, fill_in(book, lambda s: write(s, new_row(s), name="Drian 10 Fr", open=1)))
    assert comparison.mistakes[0].nearest == ("Drain 10 Fr (100008)",)


@pytest.mark.parametrize("word", ["no longr", "delte", "stop"])
def test_that_a_word_near_one_that_drops_a_line_is_answered_with_no_longer(clinic: Path, book: Path, word: str) -> None:
    comparison = take_back(clinic, fill_in(book, lambda s: write(s, row_of(s, "100001"), word=word)))
    assert comparison.mistakes[0].nearest == ("no longer",)


def test_that_a_workbook_with_the_former_header_is_read(clinic: Path, book: Path) -> None:
    def drop(sheet: Worksheet) -> None:
        sheet["F5"] = "Your word"
        write(sheet, row_of(sheet, "100001"), word="no longer")

    assert changes_of(take_back(clinic, fill_in(book, drop))) == {"100001": None}


def test_that_a_card_without_its_row_of_headers_says_so(clinic: Path, book: Path) -> None:
    (problem,) = take_back(clinic, fill_in(book, lambda sheet: sheet.delete_rows(5))).mistakes
    assert problem.message.startswith("the row of headers is gone")


def test_that_an_edit_here_and_there_to_one_line_is_a_clash(clinic: Path, book: Path) -> None:
    apply_approval(clinic, approval(QUILL, change(clinic, QUILL, "100001", item("100001", 9))), now=NOW)
    comparison = take_back(clinic, fill_in(book, fill_usual))
    assert kinds_of(comparison) == ["clash"]
    assert comparison.problems[0].expected.startswith(
        "what the card says now; or 'mine counts' under 'Keep or drop' if "
    )
    assert changes_of(comparison) == {thing: want for thing, want in USUAL.items() if thing != "100001"}


SWAP: list[dict[str, Any]] = [
    {"procedure": "KNEE", "kind": "tray", "thing": "T-KNEE", "open": 1},
    {"procedure": "KNEE", "kind": "item", "thing": "100001", "open": 2},
    {"procedure": "KNEE", "surgeon": "S01", "change": "replace", "kind": "item", "thing": "100008"}
    | {"instead of": "100001", "open": 3},
]


@pytest.fixture
def swapped(tmp_path: Path) -> Path:
    """Quill has three drains in place of the base card's two sutures."""
    return write_clinic(tmp_path / "swapped", cards=SWAP)


def approve_all(clinic: Path, comparison: Comparison) -> None:
    approved = approve_proposal(comparison.proposal, vane())
    assert not apply_approval(clinic, approved, now=NOW).refused


def test_that_a_base_line_that_an_own_line_replaces_may_be_wanted_as_well(swapped: Path, tmp_path: Path) -> None:
    """The drains stay, and a suture comes back in a new line."""
    book = send(swapped, tmp_path / "quill.xlsx")
    comparison = take_back(swapped, fill_in(book, lambda s: write(s, new_row(s), name="100001", open=3)))
    assert not comparison.problems
    approve_all(swapped, comparison)
    assert wanted(swapped, QUILL) == {"T-KNEE": (1, 0), "PK-1": (1, 0), "100001": (3, 0), "100008": (3, 0)}


def test_that_it_may_be_wanted_with_more_of_what_replaces_it(swapped: Path, tmp_path: Path) -> None:
    def fill(sheet: Worksheet) -> None:
        write(sheet, row_of(sheet, "100008"), open=5)
        write(sheet, new_row(sheet), name="100001", open=1)

    comparison = take_back(swapped, fill_in(send(swapped, tmp_path / "quill.xlsx"), fill))
    assert not comparison.problems
    approve_all(swapped, comparison)
    assert wanted(swapped, QUILL)["100008"] == (5, 0)
    assert wanted(swapped, QUILL)["100001"] == (1, 0)


def test_that_half_of_such_a_pair_never_doubles_a_thing(swapped: Path, tmp_path: Path) -> None:
    book = send(swapped, tmp_path / "quill.xlsx")
    comparison = take_back(swapped, fill_in(book, lambda s: write(s, new_row(s), name="100001", open=3)))
    approved = approve_proposal(comparison.proposal, vane(numbers=(1,)))
    applied = apply_approval(swapped, approved, now=NOW)
    assert [one.kind for one in applied.problems] == ["stands-twice"]
    assert wanted(swapped, QUILL)["100008"] == (3, 0)


def test_that_an_own_line_is_known_after_the_base_card_dropped_what_it_replaces(swapped: Path, tmp_path: Path) -> None:
    book = send(swapped, tmp_path / "quill.xlsx")
    apply_approval(swapped, approval(KNEE_BASE, change(swapped, KNEE_BASE, "100001", None)), now=NOW)
    comparison = take_back(swapped, fill_in(book, lambda s: write(s, row_of(s, "100008"), open=5)))
    assert not comparison.problems
    assert changes_of(comparison) == {"100008": (5, 0)}


def test_that_mine_counts_means_what_the_row_shows(swapped: Path, tmp_path: Path) -> None:
    """The office wants five drains; meanwhile the card got four of another suture in their place."""
    book = send(swapped, tmp_path / "quill.xlsx")
    other = change(swapped, QUILL, "100001", item("100007", 4))
    apply_approval(swapped, approval(QUILL, other), now=NOW)
    fill_in(book, lambda s: write(s, row_of(s, "100008"), open=5))
    comparison = take_back(swapped, book)
    assert kinds_of(comparison) == ["clash"]
    back = tmp_path / "back.xlsx"
    write_back(read_clinic(swapped), returned(book), comparison, back)
    fill_in(back, lambda s: write(s, row_of(s, "100008"), word="mine counts"))
    again = take_back(swapped, back)
    assert not again.problems
    approve_all(swapped, again)
    assert wanted(swapped, QUILL)["100008"] == (5, 0)


def test_that_mine_counts_for_a_new_line_as_well(clinic: Path, book: Path, tmp_path: Path) -> None:
    """The office adds two drains and a mini set; meanwhile the card got five drains and two mini sets."""
    for meant in (item("100008", 5), RowValue(kind=TRAY, thing="T-MINI", open=2, hold=0)):
        apply_approval(clinic, approval(QUILL, change(clinic, QUILL, meant.thing, meant)), now=NOW)

    def add(sheet: Worksheet) -> None:
        write(sheet, new_row(sheet), name="Drain 10 Fr (100008)", open=2)
        write(sheet, new_row(sheet, 1), name="Mini set (T-MINI)", open=1)

    comparison = take_back(clinic, fill_in(book, add))
    assert kinds_of(comparison) == ["clash", "clash"]
    back = tmp_path / "back.xlsx"
    write_back(read_clinic(clinic), returned(book), comparison, back)

    def insist(sheet: Worksheet) -> None:
        for thing in ("100008", "T-MINI"):
            write(sheet, row_of(sheet, thing), word="mine counts")

    fill_in(back, insist)
    again = take_back(clinic, back)
    assert not again.problems
    assert changes_of(again) == {"100008": (2, 0), "T-MINI": (1, 0)}


def test_that_the_same_edit_here_and_there_is_none(clinic: Path, book: Path) -> None:
    apply_approval(clinic, approval(QUILL, change(clinic, QUILL, "100001", item("100001", 5, 1))), now=NOW)
    comparison = take_back(clinic, fill_in(book, lambda sheet: write(sheet, row_of(sheet, "100001"), open=5)))
    assert kinds_of(comparison) == ["already-so"]
    assert not comparison.proposal.changes


def test_that_a_note_here_and_a_quantity_there_go_together(clinic: Path, book: Path) -> None:
    apply_approval(clinic, approval(KNEE_BASE, change(clinic, KNEE_BASE, "100001", item("100001", 3, 1))), now=NOW)
    comparison = take_back(clinic, fill_in(book, lambda s: write(s, row_of(s, "100001"), note="blue ones")))
    assert [one.after for one in comparison.proposal.changes] == [item("100001", 3, 1, "blue ones")]


def test_that_what_others_changed_is_not_taken_back_by_an_old_workbook(clinic: Path, book: Path) -> None:
    """The base card changed after the workbook was made; the office did not touch that line."""
    apply_approval(clinic, approval(KNEE_BASE, change(clinic, KNEE_BASE, "T-KNEE", None)), now=NOW)
    comparison = take_back(clinic, book)
    assert not comparison.proposal.changes
    assert not comparison.problems


def test_that_a_row_from_another_workbook_is_refused(clinic: Path, book: Path, tmp_path: Path) -> None:
    other = openpyxl.load_workbook(send(clinic, tmp_path / "tarn.xlsx", TARN))["HERNIA"]
    strange = [cell.value for cell in other[row_of(other, "100002")]]

    def paste(sheet: Worksheet) -> None:
        row = new_row(sheet, 2)
        for column, value in enumerate(strange, start=1):
            sheet.cell(row, column).value = value

    found, problems = read_office_workbook(fill_in(book, paste))
    assert found is not None
    assert [problem.kind for problem in problems] == ["other-version"]
    assert not compare_return(read_clinic(clinic), found, DAY).proposal.changes


def test_that_a_row_copied_within_the_workbook_is_a_new_line(clinic: Path, tmp_path: Path) -> None:
    book = send(clinic, tmp_path / "tarn.xlsx", TARN)
    workbook = openpyxl.load_workbook(book)
    source, target = workbook["HERNIA"], workbook["KNEE"]
    values = [cell.value for cell in source[row_of(source, "T-BASIC")]]
    row = new_row(target)
    for column, value in enumerate(values, start=1):
        target.cell(row, column).value = value
    workbook.save(book)
    assert changes_of(take_back(clinic, book)) == {"T-BASIC": (1, 0)}


@pytest.mark.parametrize("content", [b"", b"%PDF-1.7", b"PK\x03\x04 not a workbook", b"a,b\n1,2\n"])
def test_that_another_file_is_told_and_never_raises(tmp_path: Path, content: bytes) -> None:
    for name in ("strange.xlsx", "strange.csv"):
        (tmp_path / name).write_bytes(content)
        found, problems = read_office_workbook(tmp_path / name)
        assert found is None
        assert problems
    assert read_office_workbook(tmp_path / "missing.xlsx")[1][0].kind == "no-file"


def test_that_a_stamp_tells_its_owner_and_day(book: Path) -> None:
    stamp = returned(book).stamp
    assert (stamp.owner, stamp.day) == (QUILL, DAY)
    assert len({row.key for row in stamp.rows}) == len(stamp.rows)


def test_that_lines_for_every_procedure_have_a_sheet_of_their_own(tmp_path: Path) -> None:
    """Quill always wants a drain; on the knee card that line is shown and fixed."""
    rows = [
        {"procedure": "KNEE", "kind": "tray", "thing": "T-KNEE", "open": 1},
        {"procedure": "every", "surgeon": "S01", "kind": "item", "thing": "100008", "open": 1},
    ]
    clinic = write_clinic(tmp_path / "clinic", cards=rows)
    book = send(clinic, tmp_path / "quill.xlsx")
    knee = openpyxl.load_workbook(book)["KNEE"]
    assert knee.cell(row_of(knee, "100008"), 8).value == "own, for every procedure"
    fill_in(book, lambda sheet: write(sheet, row_of(sheet, "100008"), open=2), "Every procedure")
    comparison = take_back(clinic, book)
    applied = apply_approval(
        clinic,
        approve_proposal(comparison.proposal, vane()),
        now=NOW,
    )
    assert len(applied.done) == 1
    assert wanted(clinic, QUILL, None) == {"100008": (2, 0)}
    fill_in(book, lambda sheet: write(sheet, row_of(sheet, "100008"), open=7))
    assert "fixed-row" in kinds_of(take_back(clinic, book))


def test_that_a_name_written_over_a_fixed_line_is_not_said(tmp_path: Path) -> None:
    """Whatever is in cells that are not the office's, in the name of the thing and in what says whose line it is."""
    rows = [{"procedure": "every", "surgeon": "S01", "kind": "item", "thing": "100008", "open": 1}, *CARDS]
    clinic = write_clinic(tmp_path / "clinic", cards=rows)
    book = send(clinic, tmp_path / "quill.xlsx")

    def overwrite(sheet: Worksheet) -> None:
        row = row_of(sheet, "100008")
        for column in (2, 8):
            sheet.cell(row, column).value = "Okafor"

    comparison = take_back(clinic, fill_in(book, overwrite))
    assert [one.kind for one in comparison.mistakes] == ["fixed-row"]
    assert "Okafor" not in repr(comparison.problems)


def test_that_a_surgeon_may_have_another_pack(tmp_path: Path) -> None:
    rows = sound_rows()
    small = {"pack": "PK-2", "name": "Small pack", "item": "100003", "quantity": 1}
    clinic = write_clinic(tmp_path / "clinic")
    supplies = {name: rows[name] for name in ("Lots", "Places")}
    write_tables(clinic, {"Items": [*rows["Items"], *ITEMS], "Packs": [*rows["Packs"], small], **supplies})
    book = send(clinic, tmp_path / "quill.xlsx")
    fill_in(book, lambda sheet: write(sheet, row_of(sheet, "PK-1"), name="Small pack (PK-2)"))
    comparison = take_back(clinic, book)
    apply_approval(
        clinic,
        approve_proposal(comparison.proposal, vane()),
        now=NOW,
    )
    packs_wanted = [thing for thing in wanted(clinic, QUILL) if thing.startswith("PK")]
    assert packs_wanted == ["PK-2"]


def test_that_a_new_line_for_something_retired_goes_back(clinic: Path, book: Path) -> None:
    def ask(sheet: Worksheet) -> None:
        write(sheet, new_row(sheet), name="100009", open=1)

    comparison = take_back(clinic, fill_in(book, ask))
    assert changes_of(comparison) == {}
    assert [(one.kind, one.message) for one in comparison.problems] == [
        ("retired-thing", "Old drain (100009) is retired")
    ]
