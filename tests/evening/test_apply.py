"""Changed cells go into the site's own files: where they were read, whole or not at all, the former file kept."""

from __future__ import annotations

import zipfile
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.comments import Comment
from openpyxl.worksheet.datavalidation import DataValidation

from picklist.evening.keep_counted import unfinished
from picklist.evening.table_changes import RowChange, RowCounts
from picklist.evening.write_tables import CellsWritten, Writing, apply_changes, finish_unfinished
from picklist.model.known import TableChange
from picklist.problems import Where
from picklist.store.state import open_state, state_path
from picklist.tables.file_set import ChangedMeanwhileError
from picklist.tables.files import BusyError, kept_folder
from picklist.tables.folder import read_table_files
from tests.builders import DAY, at

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


ROWS = {"100245": 3, "0077": 4, "KNEE-01": 2}  # where each was read


def apply(folder: Path, *changes: TableChange, files: dict[str, bytes] | None = None) -> CellsWritten:
    """Write changes as a settlement of one day does; all cells of one row go together."""
    rows = []
    for table, key in dict.fromkeys((change.table, change.key) for change in changes):
        file, sheet = ("stock.xlsx", "Lots") if table == "Lots" else (next(folder.glob("[Ss]ets.*")).name, "Sets")
        where = Where(file=file, sheet=sheet if file.endswith("xlsx") else "", row=ROWS[key[0]])
        some = tuple(c for c in changes if (c.table, c.key) == (table, key))
        rows.append(RowChange(where=where, changes=some, counts=RowCounts()))
    writing = Writing(day=DAY, now=NOW, stamp=NOW, files=files or read_table_files(folder))
    with open_state(state_path(folder)) as state:
        return apply_changes(state, folder, rows, writing)


DIRTY = (knee("state", "on shelf", "dirty"), knee("step since", None, SINCE), knee("in case", "C-1", ""))


def test_that_a_cell_changes_and_all_else_in_the_workbook_stays(site: Path) -> None:
    applied = apply(site, lot())
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
    (kept,) = apply(site, lot()).kept
    assert kept.parent == kept_folder(site)
    assert kept.read_bytes() == before
    assert {path.name for path in site.iterdir()} == {"stock.xlsx", "Sets.csv"}


def test_that_a_csv_file_keeps_its_separator_and_line_ends(site: Path) -> None:
    applied = apply(site, *DIRTY)
    assert applied.problems == ()
    assert (site / "Sets.csv").read_bytes() == (
        b"set;tray;state;step since;place\r\n"
        b"KNEE-01;knee;dirty;2026-11-26 09:10;S-01\r\n"
        b'KNEE-02;knee;"on shelf";;S-01\r\n'
    )


def test_that_every_other_part_of_the_workbook_keeps_its_bytes(site: Path) -> None:
    """A picture that the program cannot read, notes and formats are still there, byte for byte."""
    path = site / "stock.xlsx"
    with zipfile.ZipFile(path, "a") as book:
        book.writestr("xl/media/image1.png", b"a drawing of the shelf")
    with zipfile.ZipFile(path) as book:
        before = {name: book.read(name) for name in book.namelist()}
    apply(site, lot())
    with zipfile.ZipFile(path) as book:
        after = {name: book.read(name) for name in book.namelist()}
    assert {name for name in before if before[name] != after.get(name)} == {"xl/worksheets/sheet1.xml"}


def test_that_a_wall_time_in_a_workbook_keeps_its_minutes(site: Path) -> None:
    (site / "Sets.csv").unlink()
    book = Workbook()
    sheet: Any = book.active
    sheet.title = "Sets"
    sheet.append(["set", "tray", "state", "step since", "place"])
    sheet.append(["KNEE-01", "knee", "on shelf", None, "S-01"])
    book.save(site / "sets.xlsx")
    assert apply(site, *DIRTY).problems == ()
    cell = load_workbook(site / "sets.xlsx")["Sets"]["D2"]
    assert (cell.value, cell.is_date) == (SINCE, True)


def test_that_two_files_kept_in_one_second_are_both_kept(site: Path) -> None:
    first = (site / "stock.xlsx").read_bytes()
    apply(site, lot())
    second = (site / "stock.xlsx").read_bytes()
    apply(site, lot(was=36, becomes=30))
    assert {path.read_bytes() for path in kept_folder(site).iterdir()} == {first, second}


def test_that_a_file_saved_since_it_was_read_keeps_what_somebody_wrote_and_nothing_counts(site: Path) -> None:
    """The shelf was counted anew and saved at this very moment, so no number worked out before it may go in."""
    before = read_table_files(site)
    book = load_workbook(site / "stock.xlsx")
    book["Lots"]["C3"] = 41
    book.save(site / "stock.xlsx")
    now = read_table_files(site)
    with pytest.raises(ChangedMeanwhileError, match=r"stock\.xlsx was just changed by somebody else"):
        apply(site, *DIRTY, lot(), files=before)
    assert read_table_files(site) == now
    assert {path.name for path in site.iterdir()} == now.keys()
    with open_state(state_path(site)) as state:
        assert unfinished(state) == ()


def test_that_a_set_whose_state_was_not_stated_takes_its_new_one(site: Path) -> None:
    """It counts as unknown, so that is what it was; an empty cell says the same."""
    (site / "Sets.csv").write_bytes(b"set;tray;state;step since;place\r\nKNEE-01;knee;;;S-01\r\n")
    changes = (knee("state", "unknown", "dirty"), knee("step since", None, SINCE))
    assert apply(site, *changes).done == changes
    assert b"KNEE-01;knee;dirty;" in (site / "Sets.csv").read_bytes()


def test_that_what_has_no_column_is_told_and_the_other_rows_are_done(site: Path) -> None:
    before = (site / "Sets.csv").read_bytes()
    back = TableChange(table="Sets", key=("KNEE-01",), column="return by", was=None, becomes=SINCE, why="")
    applied = apply(site, *DIRTY, back, lot())
    assert [(p.kind, p.where.row) for p in applied.problems] == [("missing column", 2)]
    assert applied.done == (lot(),)
    assert (site / "Sets.csv").read_bytes() == before


def test_that_a_file_which_cannot_be_written_leaves_all_as_they_were(
    site: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The second of two files is open elsewhere: the first gets its former contents back, and nothing counts."""
    before = {path.name: path.read_bytes() for path in site.iterdir()}
    real = Path.replace

    def refuse(self: Path, target: Path) -> Path:
        if target.name == "stock.xlsx":
            raise PermissionError(13, "Permission denied", "stock.xlsx")
        return real(self, target)

    monkeypatch.setattr(Path, "replace", refuse)
    with pytest.raises(BusyError):
        apply(site, lot(), *DIRTY)
    monkeypatch.undo()
    assert {path.name: path.read_bytes() for path in site.iterdir()} == before
    with open_state(state_path(site)) as state:
        assert unfinished(state) == ()


def die_at(monkeypatch: pytest.MonkeyPatch, number: int) -> None:
    """Let the run die just before it puts its nth file in place."""
    real, calls = Path.replace, []

    def die(self: Path, target: Path) -> Path:
        calls.append(target)
        if len(calls) == number:
            raise KeyboardInterrupt
        return real(self, target)

    monkeypatch.setattr(Path, "replace", die)


@pytest.mark.parametrize("number", [1, 2])
def test_that_a_run_cut_short_between_files_is_finished_by_the_next(
    site: Path, monkeypatch: pytest.MonkeyPatch, number: int
) -> None:
    die_at(monkeypatch, number)
    with pytest.raises(KeyboardInterrupt):
        apply(site, lot(), *DIRTY)
    monkeypatch.undo()
    with open_state(state_path(site)) as state:
        (said,) = finish_unfinished(state, site)
        assert finish_unfinished(state, site) == ()
    assert "is finished now" in said.message
    assert load_workbook(site / "stock.xlsx")["Lots"]["C3"].value == 36
    assert b"KNEE-01;knee;dirty" in (site / "Sets.csv").read_bytes()
    assert {path.name for path in site.iterdir()} == {"stock.xlsx", "Sets.csv"}


def test_that_a_run_cut_short_is_undone_where_somebody_changed_the_other_file_since(
    site: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = (site / "Sets.csv").read_bytes()
    die_at(monkeypatch, 2)
    with pytest.raises(KeyboardInterrupt):
        apply(site, lot(), *DIRTY)
    monkeypatch.undo()
    book = load_workbook(site / "stock.xlsx")
    book["Lots"]["C4"] = 99
    book.save(site / "stock.xlsx")
    with open_state(state_path(site)) as state:
        (said,) = finish_unfinished(state, site)
    assert "settle it again" in said.message
    assert (site / "Sets.csv").read_bytes() == before
    assert [cell.value for cell in load_workbook(site / "stock.xlsx")["Lots"]["C"]] == [None, "Quantity", 40, 99]
