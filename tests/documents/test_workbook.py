"""The workbook holds the same lines as the sheets, and runs nothing."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date, datetime
from io import BytesIO
from pathlib import Path

import openpyxl
import pytest

from picklist.documents.tables import (
    bulk_table,
    changes_table,
    conflicts_table,
    department_table,
    evening_table,
    labels_table,
    notes_table,
    open_table,
    pick_list_table,
    ready_table,
    shortages_table,
    turnaround_table,
    worklist_table,
)
from picklist.documents.views.bulk import BulkView
from picklist.documents.views.change_sheet import ChangesView
from picklist.documents.views.conflict_sheet import ConflictsView
from picklist.documents.views.department_sheet import DepartmentView
from picklist.documents.views.evening_sheet import EveningView
from picklist.documents.views.finished_words import View
from picklist.documents.views.labels import LabelsView
from picklist.documents.views.lookup import Lookup
from picklist.documents.views.pick_list import PickListView
from picklist.documents.views.shortages import ShortagesView
from picklist.documents.views.stamp import printing_of, stamp_for
from picklist.documents.views.worklist import WorklistView
from picklist.documents.workbook import READABLE, TALLEST, SheetTable, cell_value, workbook_bytes
from picklist.documents.write_plan import write_plan
from picklist.model.known import CartReport
from picklist.model.plan import Plan
from tests.board.days import sample_day
from tests.documents.carts import NASTY, local
from tests.documents.findings import rich_plan
from tests.documents.revisions import the_change


def wall(text: str) -> datetime:
    return datetime.fromisoformat(text)


NAMES = [
    "Cautions", "Evening", "Open", "Pick lists", "Labels", "Bulk", "Department", "Turnaround", "Worklist",
    "Sets ready", "Conflicts", "Shortages", "Notes",
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


def test_that_it_cautions_in_the_words_of_the_papers_on_a_sheet_and_on_every_printed_page(
    book: openpyxl.Workbook,
) -> None:
    """The foot of every paper, and what stands over the trays of a pick list."""
    found = Lookup(rich_plan())
    stamp = stamp_for(found.plan)
    list_of_cart = PickListView(found, found.plan.carts[0], printing_of(found.plan))
    first = [row[0].value for row in book["Cautions"].iter_rows(min_row=3)]
    assert first == [stamp.aid, list_of_cart.caution_trays]
    feet = [sheet.oddFooter for sheet in book.worksheets]
    assert all(foot is not None and stamp.aid in str(foot.center.text) for foot in feet)


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


def test_that_a_number_stands_under_its_head_and_not_beside_what_follows(book: openpyxl.Workbook) -> None:
    """Printed, 0 on hold and the cart C-1 read "0C-1"."""
    cells = [cell for sheet in book for row in sheet.iter_rows(min_row=3) for cell in row if cell.value is not None]
    assert {cell.alignment.horizontal for cell in cells} == {"left"}


def test_that_a_title_wider_than_its_table_is_wrapped(book: openpyxl.Workbook) -> None:
    """It made the print of the whole sheet small."""
    wrapped = {sheet.title: sheet for sheet in book if sheet.merged_cells.ranges}
    assert "Worklist" in wrapped
    assert "Pick lists" not in wrapped
    assert all((sheet.row_dimensions[1].height or 0) >= 40 for sheet in wrapped.values())


def test_that_days_and_moments_are_such_so_that_they_sort(book: openpyxl.Workbook) -> None:
    sheet = book["Bulk"]
    heads = [cell.value for cell in sheet[2]]
    expiries = [row[heads.index("Expiry")] for row in sheet.iter_rows(min_row=3)]
    dates = [cell for cell in expiries if cell.value != "–"]
    assert len(dates) > 10
    assert all(isinstance(cell.value, datetime) and cell.number_format == "d mmm yyyy" for cell in dates)
    evening = book["Evening"]
    (first, *_) = evening.iter_rows(min_row=3)
    assert (first[0].value, first[0].number_format) == (wall("2026-11-26 07:00"), "ddd d mmm hh:mm")
    assert all(isinstance(row[0].value, datetime) for row in evening.iter_rows(min_row=3))


def test_that_an_act_or_a_load_of_the_night_before_has_its_own_day() -> None:
    """The sample's evening: sets that are started before midnight for carts of the next day."""
    found = Lookup(sample_day())
    acts = department_table(DepartmentView(found)).rows
    before = [latest for station, latest, *_ in acts if station.endswith(", Wed 25 Nov")]
    assert before
    assert all(latest.startswith("Wed 25 Nov ") for latest in before)
    assert all("Nov" not in row[1] for row in acts if not row[0].endswith(", Wed 25 Nov"))
    loads = worklist_table(WorklistView(found)).rows
    assert {row[2][:10] for row in loads} == {"Wed 25 Nov", "Thu 26 Nov"}
    assert all(row[3] > row[2] or row[3][:3] != row[2][:3] for row in loads)


@pytest.mark.parametrize(
    ("head", "text", "value"),
    [
        ("Expiry", "29 Feb 2028", date(2028, 2, 29)),
        ("Expiry", "–", "–"),
        ("Start", "00:05", wall("2026-12-31 00:05")),
        ("Start", "12:05 am", wall("2026-12-31 00:05")),
        ("Start", "12:05 pm", wall("2026-12-31 12:05")),
        ("Ready", "Fri 1 Jan 7:30 am", wall("2027-01-01 07:30")),
        ("Ready", "Fri 2 Jan 7:30 am", "Fri 2 Jan 7:30 am"),
        ("Lot", "31 Mar 2028", "31 Mar 2028"),
        ("Open", "–", 0),
        ("Open", "007", "007"),
    ],
)
def test_that_a_text_becomes_what_its_column_holds(head: str, text: str, value: object) -> None:
    """On New Year's Eve of 2026, a Thursday."""
    assert cell_value(head, text, date(2026, 12, 31)) == value


def test_that_a_row_is_as_tall_as_its_longest_text_and_no_taller_than_a_spreadsheet_knows(
    book: openpyxl.Workbook,
) -> None:
    table = SheetTable(
        name="T", title="t", heads=("a", "b"), rows=(("x", "word " * 40), ("x", "y"), ("x", "word " * 4000))
    )
    sheet = openpyxl.load_workbook(BytesIO(workbook_bytes([table], rich_plan().now, rich_plan().day))).active
    assert sheet is not None
    heights = [sheet.row_dimensions[row].height for row in (3, 4, 5)]
    assert heights[0] is not None
    assert heights[0] >= 4 * 15
    assert heights[1:] == [None, 409]
    assert (book["Conflicts"].row_dimensions[3].height or 0) > 15


def test_that_a_sheet_of_long_texts_has_narrower_columns_so_that_it_does_not_print_small() -> None:
    """The sheet of the pick lists was 280 characters wide and printed at half its size."""
    text = "x " * 150
    table = SheetTable(name="a", title="a", heads=tuple("abcdef"), rows=((text,) * 6, ("x",) * 6))
    sheet = openpyxl.load_workbook(BytesIO(workbook_bytes([table], rich_plan().now, rich_plan().day)))["a"]
    widths = [column.width for column in sheet.column_dimensions.values()]
    assert sum(widths) <= READABLE
    assert sheet.row_dimensions[3].height <= TALLEST
    taller = replace(table, rows=((text * 4,) * 6,))  # a row of which the end would be out of sight
    sheet = openpyxl.load_workbook(BytesIO(workbook_bytes([taller], rich_plan().now, rich_plan().day)))["a"]
    assert sum(column.width for column in sheet.column_dimensions.values()) > READABLE


def test_that_the_pick_lists_have_every_line_of_every_cart(book: openpyxl.Workbook) -> None:
    rows = list(book["Pick lists"].iter_rows(min_row=3, values_only=True))
    plan = rich_plan()
    for cart in plan.carts:
        own = [row for row in rows if row[0] == cart.case.number]
        own = [row for row in own if row[3] not in ("cart", "alert", "SHORT", "merged", "remark")]
        wanted = len(cart.trays) + len(cart.stopped) + sum(
            len(line.picks) + bool(line.short_open or line.short_hold)
            for line in cart.goods
        ) + len(cart.room_checks) + len(cart.implants) + len(cart.reference_only)  # fmt: skip
        assert len(own) == wanted


def test_that_a_workbook_repeats_byte_for_byte_and_keeps_odd_text() -> None:
    table = SheetTable(name="T", title="t", heads=("a", "Open"), rows=(("\x07bell\tx", "007"), ("=1+1", "3")))
    made, day = rich_plan().now, rich_plan().day
    assert workbook_bytes([table], made, day) == workbook_bytes([replace(table)], made, day)
    sheet = openpyxl.load_workbook(BytesIO(workbook_bytes([table], made, day))).active
    assert sheet is not None
    assert [[cell.value for cell in row] for row in sheet["A3:B4"]] == [
        ["\N{REPLACEMENT CHARACTER}bell\tx", "007"],
        ["=1+1", 3],
    ]


# What is on paper alone, and why: drawings; boxes to tick and cautions where the act is; the line that repeats on each
# page; keys and ids that no paper prints; what a sheet says in other words under the same number or place.
ON_PAPER_ALONE = {
    *("stamp", "ticks", "bars", "strip", "plots", "set_days"),
    *("checks", "done", "caution_trays", "caution_goods", "caution_packs", "caution_alert"),
    *("running", "about", "person", "change"),
    *("steps", "remedy", "more", "caution"),
}


def words_of(view: object) -> Iterator[str]:
    if isinstance(view, View):
        yield from (word for name, one in vars(view).items() if name not in ON_PAPER_ALONE for word in words_of(one))
    elif isinstance(view, tuple):
        yield from (word for one in view for word in words_of(one))
    elif isinstance(view, str) and view != "–":
        yield str(view)


@pytest.mark.parametrize("day", [rich_plan, sample_day], ids=["by hand", "sample"])
def test_that_what_stands_on_a_paper_stands_on_its_sheet(day: Callable[[], Plan]) -> None:
    """Bulk had no sets, Shortages no trays, the department no later days, Changes no questions; Conflicts were mute
    where no remedy was found."""
    found, own = Lookup(day()), printing_of(day())
    evening, labels = EveningView(found, lambda _: own), LabelsView(found, lambda _: own)
    department, conflicts, bulk = DepartmentView(found), ConflictsView(found), BulkView(found)
    worklist, shortages = WorklistView(found), ShortagesView(found)
    notes = notes_table(evening, department, conflicts)
    pairs: list[tuple[View, tuple[SheetTable, ...]]] = [
        (evening, (evening_table(evening), open_table(evening), notes)),
        (labels, (labels_table(labels),)),
        (bulk, (bulk_table(bulk),)),
        (department, (department_table(department), turnaround_table(department), ready_table(department), notes)),
        (worklist, (worklist_table(worklist),)),
        (conflicts, (conflicts_table(conflicts), notes)),
        (shortages, (shortages_table(shortages),)),
        *((view, (pick_list_table((view,), own_stamp),))
          for own_stamp in (stamp_for(found.plan),)
          for view in (PickListView(found, cart, own) for cart in found.plan.carts)),
    ]  # fmt: skip
    if day is rich_plan:
        changes = ChangesView(found, the_change())
        pairs.append((changes, (changes_table(changes),)))
    for view, sheets in pairs:
        cells = "\n".join((*(one.title for one in sheets), *(c for one in sheets for row in one.rows for c in row)))
        assert [word for word in words_of(view) if word not in cells] == []


def test_that_a_conflict_without_a_remedy_says_so_on_its_sheet() -> None:
    table = conflicts_table(ConflictsView(Lookup(rich_plan())))
    assert any("No remedy" in cell for row in table.rows for cell in row)


def test_that_an_empty_plan_still_has_its_sheets(tmp_path: Path) -> None:
    plan = replace(rich_plan(), carts=(), clusters=(), shortages=(), reuses=(), department=None, chance=None)
    write_plan(plan, tmp_path / "out")
    assert openpyxl.load_workbook(tmp_path / "out" / "plan.xlsx").sheetnames == NAMES


def test_that_a_running_load_has_no_latest_start_any_more_as_on_paper() -> None:
    """At 11:00 the washer runs with GRAFT-01, which should have started by 09:22; on paper stands a dash."""
    plan = replace(rich_plan(), now=local("11:00"))
    view = WorklistView(Lookup(plan))
    running = [row for row in worklist_table(view).rows if row[1] == "running"]
    assert [(row[6], row[7], row[8]) for row in running if "GRAFT-01" in row[6]] == [("HIPF-01, GRAFT-01", "–", "")]
    later = [row for row in worklist_table(view).rows if row[1] == "" and "GRAFT-01" in row[6]]
    assert [(row[7], row[8]) for row in later] == [("Thu 26 Nov 11:07", "LATE")]


def test_that_a_stopped_cart_that_was_built_says_both_as_on_paper() -> None:
    found = Lookup(rich_plan())
    reported = {"C-1050": CartReport(state="built by mk", finished=True)}
    view = EveningView(found, lambda _: printing_of(found.plan), reported)
    [marks] = [row[9] for row in evening_table(view).rows if row[3] == "C-1050"]
    assert marks == "ON HOLD, built by mk"
