"""The blank workbooks of a new site can be read as they stand, and help whoever fills them in."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook

from picklist.checks import check_site
from picklist.inputs import read_site
from picklist.problems import Severity
from picklist.tables.blank import BLANK_BOOKS, write_blank
from picklist.tables.columns import CellType
from picklist.tables.examples import EXAMPLE, example_rows
from picklist.tables.parse import ColumnParser
from picklist.tables.reference import reference_page
from picklist.tables.schema import BOOKS, BY_NAME, SETTING_ROWS, TABLES

NOW = datetime(2026, 11, 25, 23, 0, tzinfo=UTC)


def test_that_the_blank_site_reads_without_problems(tmp_path: Path) -> None:
    write_blank(tmp_path, NOW.date())
    site, problems = read_site(tmp_path, now=NOW)
    assert site is not None
    assert {problem.kind for problem in problems} == {"example line", "empty column"}
    assert {problem.severity for problem in problems} == {Severity.NOTICE}
    assert check_site(site, NOW) == ()
    assert len(site.cases) == 1


def test_that_every_table_has_an_example_and_a_place_in_a_workbook() -> None:
    names = {table.name for table in TABLES}
    assert set(example_rows(NOW.date())) == names
    for books in (BLANK_BOOKS, BOOKS):
        assert sorted(name for group in books.values() for name in group) == sorted(names)


@pytest.fixture(scope="module")
def blank_books(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """The blank workbooks, opened once."""
    folder = tmp_path_factory.mktemp("blank")
    write_blank(folder, NOW.date())
    return {book: load_workbook(folder / f"{book}.xlsx") for book in BLANK_BOOKS}


@pytest.mark.parametrize("table", [table.name for table in TABLES])
def test_that_each_sheet_has_notes_a_frozen_header_and_drop_downs(blank_books: dict[str, Any], table: str) -> None:
    book = next(book for book, names in BLANK_BOOKS.items() if table in names)
    sheet = blank_books[book][table]
    assert sheet.freeze_panes == "A2"
    lists = {
        str(area).split(":", maxsplit=1)[0]: one
        for one in sheet.data_validations.dataValidation
        for area in one.sqref.ranges
        if one.type == "list"
    }
    for cell, column in zip(sheet[1], BY_NAME[table].columns, strict=True):
        assert cell.value == column.name
        assert cell.comment is not None
        assert column.help in cell.comment.text
        listed = f"{cell.column_letter}2" in lists
        in_book = column.refers_to in BLANK_BOOKS[book]
        from_list = column.type in (CellType.CHOICE, CellType.CHOICES, CellType.YES_NO)
        wanted = from_list or (column.type is CellType.CODE and in_book)
        assert listed is wanted, column.name
        if column.type is CellType.CODE:
            assert sheet.column_dimensions[cell.column_letter].number_format == "@"


def test_that_the_drop_down_of_a_tray_reaches_the_trays(tmp_path: Path) -> None:
    write_blank(tmp_path, NOW.date())
    sheet = load_workbook(tmp_path / "site.xlsx")["Sets"]
    assert "'Trays'!$A$2:$A$20000" in {one.formula1 for one in sheet.data_validations.dataValidation}


def test_that_nobodys_workbook_is_written_over(tmp_path: Path) -> None:
    write_blank(tmp_path, NOW.date())
    with pytest.raises(FileExistsError):
        write_blank(tmp_path, NOW.date())


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_that_the_examples_in_the_help_can_be_parsed(table: object) -> None:
    for column in table.columns:  # type: ignore[attr-defined]
        if column.example:
            _, fault = ColumnParser(column)(column.example)
            assert fault is None, f"{column.name}: {fault}"


def test_that_examples_of_settings_and_their_usual_values_can_be_parsed() -> None:
    for column in SETTING_ROWS:
        for text in (column.example, column.default):
            if text:
                assert ColumnParser(column)(text)[1] is None, column.name


def test_that_an_example_is_plainly_one() -> None:
    for name, rows in example_rows(NOW.date()).items():
        key = BY_NAME[name].columns[0]
        if key.type is CellType.CODE:
            assert all(str(row[key.name]).startswith(EXAMPLE) for row in rows), name


def test_that_the_reference_page_names_every_column_and_setting() -> None:
    page = reference_page()
    for table in TABLES:
        assert f"\n## {table.name}\n" in page
        section = page.split(f"\n## {table.name}\n")[1].split("\n## ")[0]
        for column in table.columns:
            assert f"| **{column.name}** | {column.type.value} |" in section
    for setting in SETTING_ROWS:
        assert f"| **{setting.name}** |" in page
    for kind in CellType:
        assert f"| {kind.value} | " in page
