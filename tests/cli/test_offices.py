"""A surgeon's office changes its workbook, the coordinator approves, and a change is taken back, by commands."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import openpyxl

from tests.cli.run import FINE, HOSPITAL, NOW, PROBLEMS, WRONG_USE, run
from tests.small_hospital import small_hospital


def change(book: Path, procedure: str, written: dict[str, object]) -> None:
    """Write an open quantity beside the things of one card that begin so."""
    workbook = openpyxl.load_workbook(book)
    sheet: Any = workbook[procedure]
    rows = list(sheet.iter_rows())
    head = next(row for row in rows if "Open" in [cell.value for cell in row])
    at = {cell.value: n for n, cell in enumerate(head)}
    left = dict(written)
    for row in rows:
        texts = [str(cell.value) for cell in row]
        for name in [n for n in left if any(n in text for text in texts)]:
            row[at["Open"]].value = left.pop(name)
    assert not left, f"no row for {left}"
    workbook.save(book)


def test_a_change_goes_round_from_the_office_to_the_master_and_back(tmp_path: Path) -> None:
    site, book = small_hospital(tmp_path / "hospital"), tmp_path / "quill.xlsx"
    master = (site / "cards.xlsx").read_bytes()
    code, said, _ = run("cards", "send", str(site), "Dr. Quill", "--out", str(book), "--now", NOW)
    assert code == FINE
    sheet, thing = first_row(book)
    change(book, sheet, {thing: 7})

    code, said, told = run("cards", "take", str(site), str(book), "--now", NOW)
    assert code == FINE, told
    found = re.search(r"cards show \S+ (\S+)", said)
    assert found, said
    proposal = found[1]

    code, said, _ = run("cards", "show", str(site), proposal, "--from", "2026-11-26", "--now", NOW)
    assert code == FINE
    assert "7 open" in said
    assert (site / "cards.xlsx").read_bytes() == master, "a look writes nothing"

    words = ("--by", "R. Vale", "--reason", "asked by the office", "--from", "2026-11-26", "--now", NOW)
    code, said, told = run("cards", "approve", str(site), proposal, *words)
    assert code == FINE, told
    assert "1 change written" in said
    assert (site / "cards.xlsx").read_bytes() != master
    code, said, _ = run("check", str(site), "--now", NOW)
    assert code == FINE, said

    code, said, _ = run("cards", "history", str(site), "--now", NOW)
    assert "R. Vale" in said
    code, said, told = run("cards", "undo", str(site), "1", *words)
    assert code == FINE, told
    assert "undoes 1" in said


def first_row(book: Path) -> tuple[str, str]:
    """The first card's sheet, and the id of the first item that stands on it with an open quantity of one."""
    workbook = openpyxl.load_workbook(book)
    for title in workbook.sheetnames[1:]:
        sheet: Any = workbook[title]
        rows = list(sheet.iter_rows(values_only=True))
        head = next((row for row in rows if "Open" in row), None)
        if sheet.sheet_state != "visible" or head is None:
            continue
        for row in rows[rows.index(head) + 1 :]:
            number = re.search(r"\((\d{6})\)", " ".join(str(cell) for cell in row))
            if number and row[head.index("Open")] == 1:
                return title, number[1]
    raise AssertionError("no card has an item that is opened once")


def test_a_mistake_goes_back_marked_in_its_cell(tmp_path: Path) -> None:
    site, book = small_hospital(tmp_path / "hospital"), tmp_path / "quill.xlsx"
    run("cards", "send", str(site), "S01", "--out", str(book), "--now", NOW)
    sheet, thing = first_row(book)
    change(book, sheet, {thing: "two"})
    code, said, told = run("cards", "take", str(site), str(book), "--now", NOW)
    assert code == PROBLEMS
    assert "did you mean 2?" in told
    assert "two" not in told, "what a cell holds could be anything"
    back = tmp_path / "quill - to fix.xlsx"
    assert str(back) in said
    marked: Any = openpyxl.load_workbook(back)[sheet]
    assert any(cell.comment for row in marked.iter_rows() for cell in row if cell.value == "two")


def test_unknown_owners_and_proposals_are_wrong_use(tmp_path: Path) -> None:
    site = small_hospital(tmp_path / "hospital")
    code, _, told = run("cards", "send", str(site), "Dr. Quil", "--out", str(tmp_path / "x.xlsx"), "--now", NOW)
    assert code == WRONG_USE
    assert "S01" in told
    code, _, told = run("cards", "show", str(site), "../../etc", "--now", NOW)
    assert code == WRONG_USE
    assert "no proposal" in told


def test_tidying_names_lines_that_the_pack_covers() -> None:
    code, said, _ = run("cards", "tidy", str(HOSPITAL), "--now", NOW)
    assert code == FINE
    assert "in the pack already" in said
