"""No name, note or id runs as a formula in any workbook or CSV file that is written."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openpyxl.worksheet.worksheet import Worksheet

from picklist.store.export import export_csv
from picklist.tables.columns import CellType
from picklist.tables.csv_files import csv_text, read_csv_file, text_from_csv
from picklist.tables.schema import BY_NAME
from picklist.tasks.build import Wanted, build_day
from picklist.tasks.errors import opened_state
from picklist.tasks.offices import ApprovedBy, approve_cards, send_cards, take_cards
from tests.inputs.folders import DAY, Rows, write_site
from tests.upkeep.office import ask_row, fill_in, new_row, write

NOW = datetime(2026, 11, 25, 18, 0)  # noqa: DTZ001 (a wall time)
LIVE = '=HYPERLINK("http://example.invalid","x")'
NAMED = frozenset({CellType.CODE, CellType.CODES, CellType.TEXT})


@pytest.mark.parametrize("mark", ["=", "+", "-", "@"])
def test_that_hostile_names_stay_text_in_all_papers_and_records(tmp_path: Path, mark: str) -> None:
    """Every id, name and note of the site begins with a mark that starts a formula."""
    site = write_site(tmp_path / "site", lambda rows: make_hostile(rows, mark))
    built = build_day(Wanted(folder=site, out=tmp_path / "out", now=NOW, day=DAY, with_chance=False), print)
    assert built.plan is not None, built.problems
    assert any(cart.case.number.startswith(mark) for cart in built.plan.carts)
    with opened_state(site) as state:
        export_csv(state, tmp_path / "records")
    written = [*(tmp_path / "out").rglob("*.xlsx"), *site.glob("*.xlsx")]
    assert {"carts.xlsx", "used.xlsx", "plan.xlsx", "cards.xlsx"} <= {path.name for path in written}
    assert "Choices" in openpyxl.load_workbook(tmp_path / "out" / "carts.xlsx").sheetnames
    assert marked_cells(written, mark) > 100
    for path in (tmp_path / "records").glob("*.csv"):
        assert not list(live_in_csv(path)), path


@pytest.mark.parametrize("as_csv", [frozenset[str](), frozenset({"Cards"})])
def test_that_hostile_names_stay_text_at_the_offices_and_in_the_cards(tmp_path: Path, as_csv: frozenset[str]) -> None:
    """What the office writes comes back in its marked workbook, and stands in the master as text."""
    site = write_site(tmp_path / "site", lambda rows: make_hostile(rows, "="), as_csv=as_csv)
    book = tmp_path / "office.xlsx"
    send_cards(site, "=S01", book, NOW)
    assert marked_cells([book], "=") > 10

    def fill(sheet: Worksheet) -> None:
        write(sheet, new_row(sheet), name="=100002", open=1, note=LIVE)
        for column in (2, 5):
            sheet.cell(new_row(sheet), column).data_type = "s"
        write(sheet, new_row(sheet, 1), name="+1 drian", open=2)
        write(sheet, ask_row(sheet), name="@asked", note="-why")

    taken = take_cards(site, fill_in(book, fill, "=KNEE"), NOW)
    assert taken.back is not None
    assert marked_cells([taken.back], "=") > 10
    assert taken.proposal is not None
    approved = ApprovedBy(name="=R. Vane", reason="+asked", effective=DAY)
    applied, _ = approve_cards(site, taken.proposal.id, approved, NOW)
    assert len(applied.done) == 1, applied.problems
    if as_csv:
        assert not list(live_in_csv(site / "Cards.csv"))
        grid, _ = read_csv_file(site / "Cards.csv")
        assert grid is not None
        assert grid.rows[-1][-1] == LIVE
    else:
        assert marked_cells([site / "cards.xlsx"], "=") > 10


@pytest.mark.parametrize(
    "text", ["=1+1", "-5", "+4.5", "- twice", "-1+2", "'=1", "''@a", "'tis", "", "plain", "\tx", "07:30", "@"]
)
def test_that_a_text_comes_out_of_a_csv_file_as_it_went_in(text: str) -> None:
    written = csv_text(text)
    assert text_from_csv(written) == text
    assert not is_live(written)
    assert csv_text("-5") == "-5", "a number stays a number for whoever counts with it"


def make_hostile(rows: Rows, mark: str) -> None:
    """Put the mark before every id, name and note; there are so many sets that their drop-down needs a sheet."""
    rows["Sets"] += [{"set": f"KNEE-{n}, of the large container", "tray": "T-KNEE"} for n in range(10, 22)]
    for name, lines in rows.items():
        for line in lines if name not in ("Settings", "Hours", "Routes", "Stations") else ():
            for header, value in line.items():
                column = BY_NAME[name].column(header)
                if column.type not in NAMED or header in ("route", "step", "unit", "size"):
                    continue
                line[header] = tuple(mark + one for one in value) if isinstance(value, tuple) else f"{mark}{value}"
    for line in rows["Settings"]:
        if line["setting"] == "site":
            line["value"] = f"{mark}Example Hospital"
    for line in rows["Staff"]:
        line.pop("outer glove", None)
        line.pop("gown", None)


def marked_cells(paths: list[Path], mark: str) -> int:
    """How many cells begin with the mark; none of all cells may be a formula or an error."""
    found = 0
    for path in paths:
        for sheet in openpyxl.load_workbook(path).worksheets:
            for row in sheet.iter_rows():
                for cell in row:
                    assert cell.data_type not in ("f", "e"), f"{path.name} {sheet.title}!{cell.coordinate}"
                    found += str(cell.value or "").startswith(mark)
    return found


def live_in_csv(path: Path) -> Iterator[str]:
    """Cells of a CSV file that a spreadsheet program would run."""
    with path.open(encoding="utf-8-sig", newline="") as file:
        yield from (cell for row in csv.reader(file) for cell in row if is_live(cell))


def is_live(text: Any) -> bool:
    """Whether a spreadsheet program runs a CSV cell: it begins with a sign, and is no mere number."""
    if not text.startswith(("=", "+", "-", "@", "\t", "\r")):
        return False
    try:
        float(text)
    except ValueError:
        return True
    return False
