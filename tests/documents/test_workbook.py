"""The workbook holds the same lines as the sheets, and runs nothing."""

from __future__ import annotations

from dataclasses import replace
from io import BytesIO
from pathlib import Path

import openpyxl
import pytest

from picklist.documents.workbook import Table, workbook_bytes
from picklist.documents.write_plan import write_plan
from tests.documents.carts import NASTY
from tests.documents.findings import rich_plan

NAMES = [
    "Evening", "Pick lists", "Labels", "Bulk", "Department", "Worklist", "Sets ready", "Conflicts", "Shortages",
]  # fmt: skip


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> openpyxl.Workbook:
    folder = tmp_path_factory.mktemp("book") / "out"
    write_plan(rich_plan(), folder)
    return openpyxl.load_workbook(folder / "plan.xlsx")


def test_that_each_document_has_its_sheet(book: openpyxl.Workbook) -> None:
    assert book.sheetnames == NAMES
    for sheet in book:
        assert "Revision 2, printed Wed 25 Nov 20:15" in sheet["A1"].value
        assert sheet.max_row > 2, f"{sheet.title} has no line"


def test_that_no_cell_is_a_formula(book: openpyxl.Workbook) -> None:
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row if cell.value is not None]
    assert not [cell.coordinate for cell in cells if cell.data_type == "f"]
    texts = {cell.value for cell in cells}
    assert {'=HYPERLINK("x")', "+1", "-cmd|' /C calc'!A0", NASTY} <= texts
    assert all(cell.quotePrefix for cell in cells if isinstance(cell.value, str) and cell.value[0] in "=+-@")


def test_that_counts_are_numbers(book: openpyxl.Workbook) -> None:
    sheet = book["Bulk"]
    heads = [cell.value for cell in sheet[2]]
    totals = [row[heads.index("Total")].value for row in sheet.iter_rows(min_row=3)]
    assert all(isinstance(total, int) for total in totals)
    lots = [row[heads.index("Lot")].value for row in sheet.iter_rows(min_row=3)]
    assert all(isinstance(lot, str) for lot in lots)


def test_that_the_pick_lists_have_every_line_of_every_cart(book: openpyxl.Workbook) -> None:
    rows = list(book["Pick lists"].iter_rows(min_row=3, values_only=True))
    plan = rich_plan()
    for cart in plan.carts:
        own = [row for row in rows if row[0] == cart.case.number]
        wanted = len(cart.trays) + len(cart.stopped) + sum(
            len(line.picks) + bool(line.short_open or line.short_hold)
            for line in (*cart.packs, *cart.sundries, *cart.peel_packs, *cart.people)
        ) + len(cart.room_checks) + len(cart.implants) + len(cart.reference_only)  # fmt: skip
        assert len(own) == wanted


def test_that_a_workbook_repeats_byte_for_byte_and_keeps_odd_text() -> None:
    table = Table(name="T", title="t", heads=("a", "Open"), rows=(("\x07bell\tx", "007"), ("=1+1", "3")),
                  numeric=frozenset({"Open"}))  # fmt: skip
    made = rich_plan().now
    assert workbook_bytes([table], made) == workbook_bytes([replace(table)], made)
    sheet = openpyxl.load_workbook(BytesIO(workbook_bytes([table], made))).active
    assert sheet is not None
    assert [[cell.value for cell in row] for row in sheet["A3:B4"]] == [
        ["\N{REPLACEMENT CHARACTER}bell\tx", "007"],
        ["=1+1", 3],
    ]


def test_that_an_empty_plan_still_has_its_sheets(tmp_path: Path) -> None:
    plan = replace(rich_plan(), carts=(), clusters=(), shortages=(), reuses=(), department=None, chance=None)
    write_plan(plan, tmp_path / "out")
    assert openpyxl.load_workbook(tmp_path / "out" / "plan.xlsx").sheetnames == NAMES
