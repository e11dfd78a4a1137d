"""Approved changes reach the master whole, dated and logged, and can be taken back."""

from __future__ import annotations

import io
import sqlite3
import zipfile
from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta
from pathlib import Path

import openpyxl
import pytest
from openpyxl.chart import BarChart, Reference
from openpyxl.comments import Comment
from openpyxl.worksheet.datavalidation import DataValidation

from picklist.store.lock import hold_tables
from picklist.store.state import state_path
from picklist.tables import file_set, files
from picklist.tables.files import BusyError
from picklist.upkeep import approval as apply_module
from picklist.upkeep.approval import apply_approval, undo_change
from picklist.upkeep.change_log import describe_entry, read_history
from tests.upkeep.clinic import (
    CARDS,
    DAY,
    KNEE_BASE,
    NOW,
    QUILL,
    TARN,
    approval,
    card_of,
    change,
    item,
    read_clinic,
    vane,
    wanted,
    write_clinic,
)

TOMORROW = DAY + timedelta(days=1)
CSV = frozenset({"Cards"})


@pytest.fixture(params=["workbook", "csv"])
def clinic(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    return write_clinic(tmp_path, as_csv=CSV if request.param == "csv" else frozenset())


def test_that_a_change_counts_from_its_effective_day_and_not_before(clinic: Path) -> None:
    edit = change(clinic, QUILL, "100007", item("100007", 3, 1))
    applied = apply_approval(clinic, approval(QUILL, edit, effective=TOMORROW), now=NOW)
    assert [one.change.after for one in applied.done] == [item("100007", 3, 1)]
    assert wanted(clinic, QUILL, day=DAY)["100007"] == (1, 0)
    assert wanted(clinic, QUILL, day=TOMORROW)["100007"] == (3, 1)
    lines = [line for line in read_clinic(clinic).card_lines if line.thing == "100007"]
    assert [(line.begins, line.ends) for line in lines] == [(date(2025, 3, 1), DAY), (TOMORROW, None)]


def test_that_a_base_line_is_changed_for_one_surgeon_alone(clinic: Path) -> None:
    apply_approval(clinic, approval(QUILL, change(clinic, QUILL, "100001", item("100001", 5))), now=NOW)
    assert wanted(clinic, QUILL)["100001"] == (5, 0)
    assert wanted(clinic, TARN)["100001"] == (4, 0)
    assert wanted(clinic, KNEE_BASE)["100001"] == (2, 1)


def test_that_another_thing_takes_the_place_of_a_base_line(clinic: Path) -> None:
    apply_approval(clinic, approval(QUILL, change(clinic, QUILL, "100001", item("100008", 1))), now=NOW)
    assert "100001" not in wanted(clinic, QUILL)
    assert wanted(clinic, QUILL)["100008"] == (1, 0)


def test_that_a_dropped_base_line_comes_back_as_the_base_card_has_it(clinic: Path) -> None:
    back = change(clinic, QUILL, "100002", item("100002", 1, note="count twice"))
    apply_approval(clinic, approval(QUILL, back), now=NOW)
    row = card_of(clinic, QUILL)["100002"]
    assert row.want == row.beneath
    assert not row.own


def test_that_surgeons_keep_what_they_want_when_the_base_card_changes(clinic: Path) -> None:
    """The base card drops what Tarn has more of and Quill dropped, and takes in what Quill has already."""
    changes = (
        change(clinic, KNEE_BASE, "100001", None),
        change(clinic, KNEE_BASE, "100002", None),
        change(clinic, KNEE_BASE, "100007", item("100007", 2)),
    )
    applied = apply_approval(clinic, approval(KNEE_BASE, *changes), now=NOW)
    assert len(applied.done) == 3
    assert not applied.problems
    assert wanted(clinic, TARN) == {"T-KNEE": (1, 0), "PK-1": (1, 0), "100001": (4, 0), "100007": (2, 0)}
    assert wanted(clinic, QUILL) == {"T-KNEE": (1, 0), "PK-1": (1, 0), "100007": (1, 0)}


def test_that_a_change_is_refused_when_the_card_says_something_else_by_now(clinic: Path) -> None:
    first = approval(QUILL, change(clinic, QUILL, "100001", item("100001", 5)))
    second = approval(QUILL, change(clinic, QUILL, "100001", item("100001", 7)))
    apply_approval(clinic, first, now=NOW)
    applied = apply_approval(clinic, second, now=NOW)
    assert [one.kind for one in applied.problems] == ["clash"]
    assert not applied.done
    assert not applied.files
    assert wanted(clinic, QUILL)["100001"] == (5, 0)


def test_that_a_day_gone_by_is_refused(clinic: Path) -> None:
    edit = change(clinic, QUILL, "100001", item("100001", 5))
    applied = apply_approval(clinic, approval(QUILL, edit, effective=DAY - timedelta(days=1)), now=NOW)
    assert [one.kind for one in applied.problems] == ["past-date"]


def test_that_the_former_master_is_kept_and_the_log_says_who_when_and_what(clinic: Path) -> None:
    before = {path.name: path.read_bytes() for path in clinic.iterdir() if path.is_file()}
    applied = apply_approval(clinic, approval(QUILL, change(clinic, QUILL, "100001", item("100001", 5))), now=NOW)
    assert [path.read_bytes() for path in applied.former] == [before[name] for name in applied.files]
    (entry,) = read_history(clinic)
    assert (entry.by, entry.reason, entry.at, entry.effective) == ("R. Vane", "asked for", NOW, DAY)
    assert (entry.change.before, entry.change.after) == (item("100001", 2, 1), item("100001", 5))
    assert entry.lines == ("new: KNEE, S01: replace item 100001 (5 open) from 2026-11-26",)


def test_that_one_change_is_undone_while_later_ones_stand(clinic: Path) -> None:
    apply_approval(clinic, approval(QUILL, change(clinic, QUILL, "100001", item("100001", 5))), now=NOW)
    apply_approval(clinic, approval(QUILL, change(clinic, QUILL, "100007", None)), now=NOW)
    undone = undo_change(clinic, 1, vane(reason="mistaken"), now=NOW)
    assert [(one.number, one.undoes) for one in undone.done] == [(3, 1)]
    assert wanted(clinic, QUILL)["100001"] == (2, 1)
    assert "100007" not in wanted(clinic, QUILL)


def test_that_a_change_with_a_later_one_on_its_line_is_not_undone(clinic: Path) -> None:
    apply_approval(clinic, approval(QUILL, change(clinic, QUILL, "100001", item("100001", 5))), now=NOW)
    apply_approval(clinic, approval(QUILL, change(clinic, QUILL, "100001", item("100001", 6))), now=NOW)
    undone = undo_change(clinic, 1, vane(reason="mistaken"), now=NOW)
    assert [one.kind for one in undone.problems] == ["later-change"]
    assert wanted(clinic, QUILL)["100001"] == (6, 0)


def test_that_a_swap_of_an_own_line_is_undone(clinic: Path) -> None:
    apply_approval(clinic, approval(QUILL, change(clinic, QUILL, "100007", item("100008", 2))), now=NOW)
    assert wanted(clinic, QUILL)["100008"] == (2, 0)
    undo_change(clinic, 1, vane(TOMORROW, reason="mistaken"), now=NOW)
    assert wanted(clinic, QUILL, day=TOMORROW)["100007"] == (1, 0)
    assert "100008" not in wanted(clinic, QUILL, day=TOMORROW)


def test_that_the_log_is_only_added_to(clinic: Path) -> None:
    apply_approval(clinic, approval(QUILL, change(clinic, QUILL, "100001", item("100001", 5))), now=NOW)
    with sqlite3.connect(state_path(clinic)) as db:
        with pytest.raises(sqlite3.IntegrityError):
            db.execute("UPDATE card_change SET record = ''")
        with pytest.raises(sqlite3.IntegrityError):
            db.execute("DELETE FROM card_change")
    db.close()


def test_that_a_second_writer_waits_and_then_says_so(clinic: Path) -> None:
    with hold_tables(clinic), pytest.raises(BusyError), hold_tables(clinic, wait=0.05):
        pass


def test_that_a_master_open_in_a_spreadsheet_program_is_left_alone(tmp_path: Path) -> None:
    clinic = write_clinic(tmp_path)
    (clinic / "~$cards.xlsx").write_bytes(b"")
    edit = approval(QUILL, change(clinic, QUILL, "100001", item("100001", 5)))
    with pytest.raises(BusyError, match="is open in a spreadsheet program"):
        apply_approval(clinic, edit, now=NOW)
    assert wanted(clinic, QUILL)["100001"] == (2, 1)


def test_that_a_write_cut_short_is_finished_at_the_next_one(clinic: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The power fails after the log was told and before the file was in place."""

    def fail(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(file_set, "put_in_place", fail)
    with pytest.raises(KeyboardInterrupt):
        apply_approval(clinic, approval(QUILL, change(clinic, QUILL, "100001", item("100001", 5))), now=NOW)
    monkeypatch.undo()
    assert wanted(clinic, QUILL)["100001"] == (2, 1)
    assert not read_history(clinic)
    assert not apply_module.catch_up(clinic)
    assert wanted(clinic, QUILL)["100001"] == (5, 0)
    assert [one.change.after for one in read_history(clinic)] == [item("100001", 5)]
    assert not list(clinic.glob(".*.part"))


def test_that_a_write_cut_short_is_given_up_when_the_master_was_edited_since(
    clinic: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(file_set, "put_in_place", fail)
    with pytest.raises(KeyboardInterrupt):
        apply_approval(clinic, approval(QUILL, change(clinic, QUILL, "100001", item("100001", 5))), now=NOW)
    monkeypatch.undo()
    write_clinic(
        clinic, cards=[{"procedure": "KNEE", "kind": "tray", "thing": "T-KNEE", "open": 2}], as_csv=_as(clinic)
    )
    assert not apply_module.catch_up(clinic)
    assert wanted(clinic, QUILL) == {"T-KNEE": (2, 0), "PK-1": (1, 0)}
    assert not read_history(clinic)


def test_that_a_master_that_another_program_holds_stays_and_nothing_is_left_over(
    clinic: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(_part: Path, path: Path) -> None:
        raise BusyError(f"{path.name} is open in another program; close it first")

    before = {path.name: path.read_bytes() for path in clinic.iterdir()}
    edit = approval(QUILL, change(clinic, QUILL, "100001", item("100001", 5)))
    monkeypatch.setattr(file_set, "put_in_place", refuse)
    with pytest.raises(BusyError):
        apply_approval(clinic, edit, now=NOW)
    monkeypatch.undo()
    assert {path.name: path.read_bytes() for path in clinic.iterdir()} == before
    assert not apply_module.catch_up(clinic)
    assert not read_history(clinic)
    assert len(apply_approval(clinic, edit, now=NOW).done) == 1


def _as(clinic: Path) -> frozenset[str]:
    return CSV if (clinic / "Cards.csv").exists() else frozenset()


def test_that_everything_else_in_the_workbook_stays_byte_for_byte(tmp_path: Path) -> None:
    """A chart, a note, a drop-down, widths and colours stand in the master, and a column of the department's own."""
    clinic = write_clinic(tmp_path)
    _decorate(clinic / "cards.xlsx")
    before = _parts(clinic / "cards.xlsx")
    changes = (change(clinic, QUILL, "100001", item("100001", 5)), change(clinic, QUILL, "100008", item("100008", 1)))
    apply_approval(clinic, approval(QUILL, *changes), now=NOW)
    after = _parts(clinic / "cards.xlsx")
    assert before.keys() == after.keys()
    assert [name for name in before if before[name] != after[name]] == ["xl/worksheets/sheet2.xml"]
    sheet = openpyxl.load_workbook(clinic / "cards.xlsx")["Cards"]
    assert sheet["B3"].comment.text == "ask Ann"
    assert sheet["P4"].value == "our own remark"
    assert sheet.column_dimensions["C"].width == 33
    assert str(sheet.data_validations.dataValidation[0].sqref) == "C2:C11"
    assert wanted(clinic, QUILL)["100008"] == (1, 0)


def _decorate(path: Path) -> None:
    workbook = openpyxl.load_workbook(path)
    sheet = workbook["Cards"]
    sheet["B3"].comment = Comment("ask Ann", "Ann")
    sheet["P1"], sheet["P4"] = "remarks", "our own remark"
    sheet.column_dimensions["C"].width = 33
    choice = DataValidation(type="list", formula1='"add,replace,remove"')
    choice.add("C2:C9")
    sheet.add_data_validation(choice)
    chart = BarChart()
    chart.add_data(Reference(sheet, min_col=7, min_row=2, max_row=5))
    extra = workbook.create_sheet("Our notes")
    extra["A1"] = "do not touch"
    extra.add_chart(chart, "C3")
    workbook.save(path)


def _parts(path: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(path.read_bytes())) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def test_that_a_master_without_date_columns_gets_them(tmp_path: Path) -> None:
    clinic = write_clinic(tmp_path, as_csv=CSV)
    short = (
        "procedure;surgeon;change;kind;thing;open;by\nKNEE;every;add;tray;T-KNEE;1;Jürgen\nKNEE;S01;add;item;100007;1\n"
    )
    (clinic / "Cards.csv").write_text(short, encoding="cp1252")
    edit = change(clinic, QUILL, "100007", item("100007", 3, note="für später"))
    apply_approval(clinic, approval(QUILL, edit), now=NOW)
    assert wanted(clinic, QUILL)["100007"] == (3, 0)
    assert wanted(clinic, QUILL, day=DAY - timedelta(days=1))["100007"] == (1, 0)
    text = (clinic / "Cards.csv").read_text(encoding="cp1252")
    assert text.splitlines()[1] == "KNEE;every;add;tray;T-KNEE;1;Jürgen"
    assert "für später" in text


def test_that_a_later_line_that_would_find_nothing_is_told(tmp_path: Path) -> None:
    """Tarn is to have more of something for left knees from January on; now the base card drops it."""
    rows = [
        {"procedure": "KNEE", "kind": "item", "thing": "100001", "open": 2},
        {"procedure": "KNEE", "surgeon": "S02", "change": "replace", "kind": "item", "thing": "100001", "open": 4}
        | {"side": "left", "from": date(2027, 1, 1)},
    ]
    clinic = write_clinic(tmp_path, cards=rows)
    applied = apply_approval(clinic, approval(KNEE_BASE, change(clinic, KNEE_BASE, "100001", None)), now=NOW)
    assert [(one.kind, one.where.row) for one in applied.problems] == [("finds-nothing", 3)]
    assert len(applied.done) == 1


def test_that_a_later_line_follows_the_base_card_before_it_counts(tmp_path: Path) -> None:
    """Tarn is to have four of something from January on; now the base card drops it, and Tarn's four still come."""
    rows = [
        {"procedure": "KNEE", "kind": "item", "thing": "100001", "open": 2},
        {"procedure": "KNEE", "surgeon": "S02", "change": "replace", "kind": "item", "thing": "100001", "open": 4}
        | {"from": date(2027, 1, 1)},
    ]
    clinic = write_clinic(tmp_path, cards=rows, as_csv=CSV)
    applied = apply_approval(clinic, approval(KNEE_BASE, change(clinic, KNEE_BASE, "100001", None)), now=NOW)
    assert not applied.problems
    assert "100001" not in wanted(clinic, TARN)
    assert wanted(clinic, TARN, day=date(2027, 1, 1))["100001"] == (4, 0)
    assert "KNEE,S02,add,item,100001,,4," in (clinic / "Cards.csv").read_text(encoding="utf-8-sig")


def test_that_two_who_apply_at_once_both_succeed(clinic: Path) -> None:
    """Quill's and Tarn's changes, and the base card's, are written at the same moment."""
    approvals = [
        approval(QUILL, change(clinic, QUILL, "100001", item("100001", 5))),
        approval(TARN, change(clinic, TARN, "100007", item("100007", 2))),
        approval(KNEE_BASE, change(clinic, KNEE_BASE, "100008", item("100008", 1))),
    ]
    with ThreadPoolExecutor(3) as pool:
        applied = list(pool.map(lambda one: apply_approval(clinic, one, now=NOW), approvals))
    assert [len(one.done) for one in applied] == [1, 1, 1]
    assert wanted(clinic, QUILL)["100001"] == (5, 0)
    assert wanted(clinic, TARN)["100007"] == (2, 0)
    assert wanted(clinic, QUILL)["100008"] == wanted(clinic, TARN)["100008"] == (1, 0)
    assert len(read_history(clinic)) == 3


def test_that_a_master_changed_by_hand_in_the_last_moment_is_read_again(
    clinic: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Somebody saves the master while the change is being worked out."""
    real = files.prepare_file
    turns: list[int] = []

    def save_in_between(path: Path, data: bytes) -> Path:
        part = real(path, data)
        if not turns:
            turns.append(1)
            write_clinic(
                clinic,
                cards=[*CARDS, {"procedure": "HERNIA", "kind": "item", "thing": "100008", "open": 1}],
                as_csv=_as(clinic),
            )
        return part

    edit = approval(QUILL, change(clinic, QUILL, "100001", item("100001", 5)))
    monkeypatch.setattr(file_set, "prepare_file", save_in_between)
    applied = apply_approval(clinic, edit, now=NOW)
    assert len(applied.done) == 1
    assert wanted(clinic, QUILL)["100001"] == (5, 0)
    assert wanted(clinic, TARN, "HERNIA")["100008"] == (1, 0)


def test_that_an_entry_of_the_log_reads_in_words(clinic: Path) -> None:
    apply_approval(clinic, approval(QUILL, change(clinic, QUILL, "100001", item("100001", 5))), now=NOW)
    (entry,) = read_history(clinic)
    assert describe_entry(read_clinic(clinic), entry) == (
        "Change 1. Thu 26 Nov 2026 09:00, R. Vane: asked for",
        "  Knee repair (KNEE), Dr. Quill (S01), from Thu 26 Nov 2026",
        "  changed: Suture 2-0 (100001), 2 open and 1 hold -> Suture 2-0 (100001), 5 open",
        "  new: KNEE, S01: replace item 100001 (5 open) from 2026-11-26",
    )


def test_that_a_folder_that_cannot_be_written_is_told(clinic: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> Path:
        raise PermissionError(13, "Permission denied")

    edit = approval(QUILL, change(clinic, QUILL, "100001", item("100001", 5)))
    monkeypatch.setattr(file_set, "prepare_file", refuse)
    with pytest.raises(PermissionError):
        apply_approval(clinic, edit, now=NOW)
    assert wanted(clinic, QUILL)["100001"] == (2, 1)
    assert not read_history(clinic)
