"""What is written can be opened by a spreadsheet program and says what was meant."""

from __future__ import annotations

from datetime import date, datetime, time
from pathlib import Path

import pytest
from openpyxl import load_workbook

from picklist.tables.write import write_tables

CASE = {
    "case": "0041",
    "day": date(2026, 11, 26),
    "room": "OR 3",
    "start": time(7, 30),
    "minutes": 90,
    "surgeon": "S04",
    "procedures": ("KNEE-REPL", "KNEE-SCOPE"),
    "may move": False,
}


def test_that_a_case_number_keeps_its_leading_zeros_and_times_are_times(tmp_path: Path) -> None:
    write_tables(tmp_path, {"Schedule": [CASE]})
    sheet = load_workbook(tmp_path / "schedule.xlsx")["Schedule"]
    header = [cell.value for cell in sheet[1]]
    row = dict(zip(header, [cell.value for cell in sheet[2]], strict=True))
    assert (row["case"], row["start"], row["minutes"]) == ("0041", time(7, 30), 90)
    assert row["day"] == datetime(2026, 11, 26)  # noqa: DTZ001
    assert (row["procedures"], row["may move"], row["notes"]) == ("KNEE-REPL; KNEE-SCOPE", "no", None)
    assert sheet.freeze_panes == "A2"


def test_that_csv_reads_as_typed(tmp_path: Path) -> None:
    write_tables(tmp_path, {"Schedule": [CASE]}, as_csv=frozenset({"Schedule"}))
    lines = (tmp_path / "Schedule.csv").read_text(encoding="utf-8-sig").splitlines()
    assert lines[1].startswith("0041,2026-11-26,OR 3,07:30,90,S04,KNEE-REPL; KNEE-SCOPE,")


def test_that_a_text_with_an_equals_sign_is_no_formula(tmp_path: Path) -> None:
    write_tables(tmp_path, {"Staff": [{"person": "S1", "name": "=1+1"}]})
    sheet = load_workbook(tmp_path / "site.xlsx")["Staff"]
    assert (sheet["B2"].value, sheet["B2"].data_type) == ("=1+1", "s")


@pytest.mark.usefixtures("packed_afresh")
def test_that_the_same_rows_give_the_same_bytes(tmp_path: Path) -> None:
    first = write_tables(tmp_path / "a", {"Schedule": [CASE]})
    second = write_tables(tmp_path / "b", {"Schedule": [CASE]})
    assert first[0].read_bytes() == second[0].read_bytes()
    assert b"dcterms:modified" not in first[0].read_bytes()


def test_that_an_unknown_column_is_refused(tmp_path: Path) -> None:
    with pytest.raises(KeyError):
        write_tables(tmp_path, {"Staff": [{"person": "S1", "patient": "x"}]})
