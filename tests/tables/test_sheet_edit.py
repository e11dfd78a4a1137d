"""Cells are written into a sheet's own text, whatever program wrote it, and nothing else moves."""

from __future__ import annotations

import csv
import io
import re
import zipfile
from datetime import date, datetime
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl.utils.datetime import CALENDAR_MAC_1904
from openpyxl.worksheet.table import Table

from picklist.settings import DateOrder
from picklist.tables.csv_files import edit_csv
from picklist.tables.parse_times import parse_stamp_cell
from picklist.tables.schema import BY_NAME
from picklist.tables.sheet_edit import edit_sheet
from picklist.tables.workbooks import read_sheets
from tests.patience import tries

Cells = dict[tuple[int, int], str | int | date | None]
TEXTS = st.text("ab <>&'\"=é漢\n", min_size=1, max_size=12)
VALUES = st.one_of(TEXTS, st.integers(0, 999), st.dates(date(2000, 1, 1), date(2090, 1, 1)), st.none())
EDITS = st.dictionaries(st.tuples(st.integers(0, 14), st.integers(0, 8)), VALUES, max_size=12)


def workbook_bytes() -> bytes:
    """Eight rows of five columns with gaps, an empty row, a dated column, and a formula."""
    workbook = openpyxl.Workbook()
    sheet = workbook.active
    assert sheet is not None
    sheet.title = "Cards"
    for row in range(1, 9):
        for column in range(1, 6):
            if (row * column) % 4 and row != 5:
                sheet.cell(row, column).value = f"r{row}c{column}"
    sheet["E2"] = datetime(2026, 1, 2)  # noqa: DTZ001 (a day in a sheet)
    sheet["E2"].number_format = "yyyy-mm-dd"
    sheet["C3"] = "=1+1"
    return saved(workbook)


def saved(workbook: openpyxl.Workbook) -> bytes:
    raw = io.BytesIO()
    workbook.save(raw)
    return raw.getvalue()


def rewritten(data: bytes, pattern: bytes, new: bytes, part: str = "xl/worksheets/sheet1.xml") -> bytes:
    """The workbook with the text of one part changed, as another program would have written it."""
    raw = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as source, zipfile.ZipFile(raw, "w") as target:
        for name in source.namelist():
            text = source.read(name)
            target.writestr(name, re.sub(pattern, new, text) if name == part else text)
    return raw.getvalue()


def values(data: bytes) -> dict[tuple[int, int], Any]:
    """All cells that hold anything, by (row, column) from 0; days as days."""
    sheet = openpyxl.load_workbook(io.BytesIO(data))["Cards"]
    found = {}
    for row in sheet.iter_rows():
        for cell in row:
            if cell.value is not None:
                value = cell.value.date() if isinstance(cell.value, datetime) else cell.value
                found[cell.row - 1, cell.column - 1] = value
    return found


PLAIN = workbook_bytes()
DIALECTS = {
    "plain": PLAIN,
    "with a prefix": rewritten(
        rewritten(PLAIN, rb"<(/?)(?=[a-zA-Z])", rb"<\1x:"), rb"<x:worksheet xmlns=", b"<x:worksheet xmlns:x="
    ),
    "without places": rewritten(PLAIN, rb'<row r="\d+"', b"<row"),
    "with spaces in tags": rewritten(PLAIN, rb'<c r="([A-Z]+\d+)"', rb'<c  r = "\1"'),
}


@pytest.mark.parametrize("dialect", ["plain", "with a prefix", "with spaces in tags"])
@settings(max_examples=tries(25))
@given(edits=EDITS)
def test_that_only_the_written_cells_differ(dialect: str, edits: Cells) -> None:
    before = DIALECTS[dialect]
    expected = values(before) | {place: value for place, value in edits.items() if value is not None}
    for place, value in edits.items():
        if value is None:
            expected.pop(place, None)
    assert values(edit_sheet(before, "Cards", edits, like_row=7)) == expected


def test_that_an_edited_sheet_is_read_by_the_reader_of_tables(tmp_path: Path) -> None:
    (tmp_path / "a.xlsx").write_bytes(
        edit_sheet(PLAIN, "Cards", {(9, 0): " kept  ", (1, 4): date(2027, 2, 3)}, like_row=7)
    )
    (grid,), faults = read_sheets(tmp_path / "a.xlsx", lambda name: name == "Cards")
    assert not faults
    assert grid.rows[9][0] == " kept  "
    assert grid.rows[1][4] == date(2027, 2, 3)


def test_that_midnight_is_written_so_that_it_is_no_day_without_a_time(tmp_path: Path) -> None:
    midnight = datetime(2026, 11, 26)  # noqa: DTZ001 (a wall time)
    (tmp_path / "a.xlsx").write_bytes(edit_sheet(PLAIN, "Cards", {(1, 4): midnight}, like_row=7))
    (grid,), _ = read_sheets(tmp_path / "a.xlsx", lambda name: name == "Cards")
    column = BY_NAME["Sets"].column("step since")
    assert parse_stamp_cell(column, grid.rows[1][4], DateOrder.ANY) == (midnight, None)
    assert parse_stamp_cell(column, midnight.date(), DateOrder.ANY)[0] is None


@pytest.mark.parametrize(
    ("text", "read"),
    [("lot\x1d21", "lot\x1d21"), ("two\x0blines", "two\x0blines"), ("_x000A_", "_x000A_"), ("\ufffe", "_xFFFE_")],
)
def test_that_characters_which_no_workbook_may_hold_do_not_damage_it(tmp_path: Path, text: str, read: str) -> None:
    """A scanned label has a separator, and what is pasted may hold a vertical tab."""
    (tmp_path / "a.xlsx").write_bytes(edit_sheet(PLAIN, "Cards", {(9, 0): text}, like_row=7))
    (grid,), faults = read_sheets(tmp_path / "a.xlsx", lambda name: name == "Cards")
    assert not faults
    assert grid.rows[9][0] == read


def test_that_a_listed_table_a_drop_down_and_a_colouring_grow_with_it() -> None:
    workbook = openpyxl.load_workbook(io.BytesIO(PLAIN))
    sheet = workbook["Cards"]
    for column in range(1, 6):
        sheet.cell(1, column).value = f"head {column}"
    sheet.add_table(Table(displayName="CardTable", ref="A1:E8"))
    again = openpyxl.load_workbook(io.BytesIO(edit_sheet(saved(workbook), "Cards", {(8, 0): "new"}, like_row=7)))
    assert again["Cards"].tables["CardTable"].ref == "A1:E9"
    assert again["Cards"].dimensions == "A1:E9"


def test_that_a_day_in_a_column_without_days_gets_a_style_that_shows_it() -> None:
    edited = edit_sheet(PLAIN, "Cards", {(3, 1): date(2026, 5, 6), (4, 1): date(2026, 5, 7)}, like_row=7)
    sheet = openpyxl.load_workbook(io.BytesIO(edited))["Cards"]
    assert [cell.is_date for cell in (sheet["B4"], sheet["B5"])] == [True, True]
    assert sheet["A4"].value == "r4c1" or sheet["A4"].value is None
    assert not sheet["B3"].is_date


def test_that_a_day_is_not_written_so_that_it_shows_as_a_month() -> None:
    workbook = openpyxl.load_workbook(io.BytesIO(PLAIN))
    workbook["Cards"]["E2"].number_format = "mmm-yy"
    edited = edit_sheet(saved(workbook), "Cards", {(1, 4): date(2027, 6, 1)}, like_row=7)
    assert "d" in openpyxl.load_workbook(io.BytesIO(edited))["Cards"]["E2"].number_format


def test_that_the_calendar_of_1904_is_honoured() -> None:
    workbook = openpyxl.load_workbook(io.BytesIO(PLAIN))
    workbook.epoch = CALENDAR_MAC_1904
    edited = edit_sheet(saved(workbook), "Cards", {(3, 4): date(2026, 5, 6)}, like_row=7)
    assert openpyxl.load_workbook(io.BytesIO(edited))["Cards"]["E4"].value.date() == date(2026, 5, 6)


def test_that_a_formula_that_is_overwritten_leaves_no_stale_list_of_formulas() -> None:
    raw = io.BytesIO()
    chain = (
        b'<calcChain xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><c r="C3" i="1"/></calcChain>'
    )
    override = b'<Override PartName="/xl/calcChain.xml" ContentType="x"/></Types>'
    with zipfile.ZipFile(io.BytesIO(PLAIN)) as source, zipfile.ZipFile(raw, "w") as target:
        for name in source.namelist():
            text = source.read(name)
            target.writestr(name, text.replace(b"</Types>", override) if name == "[Content_Types].xml" else text)
        target.writestr("xl/calcChain.xml", chain)
    with zipfile.ZipFile(io.BytesIO(edit_sheet(raw.getvalue(), "Cards", {(2, 2): 5}, like_row=7))) as archive:
        assert "xl/calcChain.xml" not in archive.namelist()
        assert b"calcChain" not in archive.read("[Content_Types].xml")


@given(
    rows=st.lists(st.lists(st.text('ab,"\n é', max_size=6), min_size=3, max_size=3), min_size=1, max_size=6),
    ending=st.sampled_from(("\r\n", "\n")),
)
def test_that_other_records_of_a_csv_file_keep_their_text(rows: list[list[str]], ending: str) -> None:
    out = io.StringIO()
    csv.writer(out, lineterminator=ending, quoting=csv.QUOTE_ALL).writerows([["one", "two", "three"], *rows])
    before = out.getvalue().encode("utf-8-sig")
    after = edit_csv(before, {(0, 3): "four", (len(rows) + 1, 1): "new"})
    read = list(csv.reader(io.StringIO(after.decode("utf-8-sig"), newline="")))
    assert read == [["one", "two", "three", "four"], *rows, ["", "new"]]
    kept = before.decode("utf-8-sig").split(ending, 1)[1]
    assert kept in after.decode("utf-8-sig")
    assert edit_csv(before, {}, gone=frozenset({0})).decode("utf-8-sig") == kept
