"""The fast reader and its flags see what openpyxl, read slowly and fully, sees."""

from __future__ import annotations

import random
import re
from collections.abc import Callable
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.utils.datetime import CALENDAR_MAC_1904

from picklist.tables.cells import CellFlaw, Grid
from picklist.tables.drafts import Ledger
from picklist.tables.export_cells import minutes_of_hours, minutes_until
from picklist.tables.file_safety import Limits, workbook_fault
from picklist.tables.folder import read_folder
from picklist.tables.sheet_flags import letters_of, place_of
from picklist.tables.workbooks import read_sheets, sheet_names
from tests.tables.packages import add_part, alter_part, cut_short

SHEET_PART = "xl/worksheets/sheet1.xml"
MERGED = '<mergeCells count="1"><mergeCell ref="{}"/></mergeCells></worksheet>'


def every_sheet(_name: str) -> bool:
    return True


def grid_of(path: Path) -> Grid:
    grids, faults = read_sheets(path, every_sheet)
    assert faults == []
    return grids[0]


def by_openpyxl(path: Path) -> dict[tuple[int, int], Any]:
    """The same sheet by an independent reader; formulas need a second look without their values."""
    with_values = load_workbook(path, data_only=True).worksheets[0]
    with_formulas = load_workbook(path).worksheets[0]
    found: dict[tuple[int, int], Any] = {}
    for row, cells in enumerate(with_values.iter_rows()):
        for column, cell in enumerate(cells):
            place = (row, column)
            formula = with_formulas.cell(row + 1, column + 1).data_type == "f"
            if cell.data_type == "e":
                found[place] = CellFlaw("error value", str(cell.value))
            elif cell.value is None and formula:
                found[place] = CellFlaw("no stored value")
            elif cell.value is not None:
                zeros = re.fullmatch("0{2,}", cell.number_format)
                found[place] = str(cell.value).zfill(len(zeros[0])) if zeros else cell.value
    return found


def normal(value: Any) -> Any:
    """Dates and numbers in one form, whichever reader they come from."""
    if isinstance(value, datetime) and value.time() == time(0):
        return value.date()
    if isinstance(value, float) and value.is_integer():
        return int(value)
    return value


def agree(path: Path) -> dict[tuple[int, int], Any]:
    fast = {
        (n, m): normal(raw)
        for n, row in enumerate(grid_of(path).rows)
        for m, raw in enumerate(row)
        if raw is not None and raw != ""
    }
    slow = {place: normal(value) for place, value in by_openpyxl(path).items()}
    assert fast == slow
    return fast


def random_workbook(path: Path, seed: int) -> None:
    draw = random.Random(seed)
    sheet = Workbook().active
    assert sheet is not None
    makers = (
        lambda: draw.choice(["x", "00123", " a  b ", "#N/A", "é;ß", "true", "3"]),
        lambda: draw.randrange(-5, 100_000),
        lambda: draw.random() * 100,
        lambda: date(2026, 1, 1) + timedelta(days=draw.randrange(700)),
        lambda: datetime(2026, 1, 1) + timedelta(minutes=draw.randrange(500_000)),  # noqa: DTZ001
        lambda: time(draw.randrange(24), draw.randrange(60)),
        lambda: draw.random() < 0.5,
        lambda: "=1+1",
    )
    top, left = draw.randrange(1, 5), draw.randrange(1, 4)
    for row in range(top, top + 30):
        for column in range(left, left + 8):
            if draw.random() < 0.8:
                cell = sheet.cell(row, column, draw.choice(makers)())
                if cell.value == "#N/A":
                    cell.data_type = draw.choice("se")
                if type(cell.value) is int and draw.random() < 0.3:
                    cell.number_format = "000000"
    assert sheet.parent is not None
    sheet.parent.save(path)


@pytest.mark.parametrize("seed", range(6))
def test_that_both_readers_agree_on_random_sheets(tmp_path: Path, seed: int) -> None:
    path = tmp_path / "a.xlsx"
    random_workbook(path, seed)
    seen = agree(path)
    assert len(seen) > 150
    flaws = {value.kind for value in seen.values() if isinstance(value, CellFlaw)}
    assert flaws == {"error value", "no stored value"}


@pytest.mark.parametrize("seed", [1, 2])
def test_that_they_agree_when_another_program_wrote_the_xml(tmp_path: Path, seed: int) -> None:
    """Some programs give every element a prefix, some leave out the references of rows and cells."""
    path = tmp_path / "a.xlsx"
    random_workbook(path, seed)
    part = "xl/worksheets/sheet1.xml"
    alter_part(path, part, lambda xml: re.sub(r"<(/?)(?=[a-zA-Z])", r"<\1x:", xml).replace("xmlns=", "xmlns:x="))
    agree(path)


def test_that_cells_without_references_are_counted(tmp_path: Path) -> None:
    path = tmp_path / "a.xlsx"
    workbook = Workbook()
    sheet = workbook.active
    assert sheet is not None
    for row in (["a", "b"], ["c", "=1+1"], ["d", "e"]):
        sheet.append(row)
    workbook.save(path)
    alter_part(path, "xl/worksheets/sheet1.xml", lambda xml: re.sub(r' r="[A-Z]*\d+"', "", xml))
    assert grid_of(path).rows[1][1] == CellFlaw("no stored value")


def test_that_days_counted_from_1904_are_the_same_days(tmp_path: Path) -> None:
    workbook = Workbook()
    workbook.epoch = CALENDAR_MAC_1904
    sheet = workbook.active
    assert sheet is not None
    sheet["A1"] = date(2026, 11, 26)
    workbook.save(tmp_path / "a.xlsx")
    assert grid_of(tmp_path / "a.xlsx").rows[0][0] == date(2026, 11, 26)


def test_hidden_rows_columns_and_sheets_and_merged_cells(tmp_path: Path) -> None:
    workbook = Workbook()
    sheet = workbook.active
    assert sheet is not None
    for n in range(1, 6):
        sheet.append([n, n, n])
    sheet.row_dimensions[3].hidden = True
    sheet.column_dimensions["B"].hidden = True
    sheet.merge_cells("A4:A5")
    workbook.create_sheet("other")
    sheet.sheet_state = "hidden"
    workbook.active = 1
    workbook.save(tmp_path / "a.xlsx")
    grid = grid_of(tmp_path / "a.xlsx")
    assert (grid.hidden, set(grid.hidden_rows), set(grid.hidden_columns)) == (True, {3}, {1})
    assert grid.merged == ((3, 0, 4, 0),)


def test_letters_and_places() -> None:
    assert [letters_of(n) for n in (0, 25, 26, 701, 702)] == ["A", "Z", "AA", "ZZ", "AAA"]
    assert all(place_of(f"{letters_of(n)}{n + 1}") == (n, n) for n in range(2000))


# --- what is no workbook, or a trap


def small_workbook(path: Path) -> Path:
    workbook = Workbook()
    assert workbook.active is not None
    workbook.active["A1"] = "case"
    workbook.save(path)
    return path


def kind(path: Path, limits: Limits | None = None) -> str:
    fault = workbook_fault(path, limits) if limits else workbook_fault(path)
    return fault.kind if fault else ""


def test_that_a_workbook_passes(tmp_path: Path) -> None:
    path = small_workbook(tmp_path / "a.xlsx")
    assert kind(path) == ""
    assert sheet_names(path) == (("Sheet",), None)


@pytest.mark.parametrize(
    ("content", "expected"),
    [
        (b"", "empty file"),
        (b"<html><table><tr><td>case</td></tr></table></html>", "not a workbook"),
        (b"case,day\n1,2026-11-26\n", "not a workbook"),
        (b"PK\x03\x04" + b"\x00" * 40, "truncated"),
        (bytes.fromhex("d0cf11e0a1b11ae1") + b"\x00" * 600, "old format"),
        (
            bytes.fromhex("d0cf11e0a1b11ae1") + b"\x00" * 600 + "EncryptedPackage".encode("utf-16-le"),
            "encrypted",
        ),
    ],
)
def test_files_that_are_no_workbook(tmp_path: Path, content: bytes, expected: str) -> None:
    path = tmp_path / "a.xlsx"
    path.write_bytes(content)
    assert kind(path) == expected


@pytest.mark.parametrize("share", [0.02, 0.3, 0.6, 0.9, 0.99])
def test_that_a_workbook_cut_short_is_told(tmp_path: Path, share: float) -> None:
    path = small_workbook(tmp_path / "a.xlsx")
    cut_short(path, share)
    assert kind(path) == "truncated"


def test_that_a_flipped_byte_never_raises(tmp_path: Path) -> None:
    whole = small_workbook(tmp_path / "a.xlsx").read_bytes()
    path = tmp_path / "b.xlsx"
    draw = random.Random(7)
    told = 0
    for _ in range(150):
        data = bytearray(whole)
        for _ in range(3):
            data[draw.randrange(len(data))] ^= 1 << draw.randrange(8)
        path.write_bytes(data)
        _, fault = sheet_names(path)
        faults = [fault] if fault else [one for _, one in read_sheets(path, every_sheet)[1]]
        told += bool(faults)
    assert told > 50


def test_that_an_archive_without_sheets_is_no_workbook(tmp_path: Path) -> None:
    add_part(tmp_path / "a.xlsx", "hello.txt", b"hello")
    assert kind(tmp_path / "a.xlsx") == "not a workbook"


def test_that_a_workbook_that_swells_is_not_opened(tmp_path: Path) -> None:
    path = small_workbook(tmp_path / "a.xlsx")
    add_part(path, "xl/worksheets/sheet9.xml", b"0" * (20 << 20))
    assert path.stat().st_size < 100_000
    assert kind(path) == "swells"
    assert sheet_names(path)[1] is not None


def test_that_the_size_is_measured_and_not_believed(tmp_path: Path) -> None:
    """A trap says that little comes out of it; what really comes out is not what it says, and it is not opened."""
    path = small_workbook(tmp_path / "a.xlsx")
    add_part(path, "xl/worksheets/sheet9.xml", b"0" * (20 << 20))
    honest = (20 << 20).to_bytes(4, "little")
    data = path.read_bytes()
    assert honest in data
    path.write_bytes(data.replace(honest, (1000).to_bytes(4, "little")))
    assert kind(path) == "truncated"


def test_that_the_whole_may_not_pass_its_limit(tmp_path: Path) -> None:
    path = small_workbook(tmp_path / "a.xlsx")
    add_part(path, "xl/media/noise.bin", random.Random(1).randbytes(300_000))
    assert kind(path, Limits(unpacked_bytes=200_000)) == "swells"
    assert kind(path, Limits(unpacked_bytes=400_000)) == ""
    assert kind(path, Limits(parts=3)) == "swells"


def test_that_entities_of_its_own_make_a_sheet_suspect(tmp_path: Path) -> None:
    path = small_workbook(tmp_path / "a.xlsx")
    trap = '<!DOCTYPE a [<!ENTITY b "xxxxxxxx"><!ENTITY c "&b;&b;&b;">]>'
    alter_part(path, "xl/worksheets/sheet1.xml", lambda xml: trap + xml)
    grids, faults = read_sheets(path, every_sheet)
    assert grids == []
    assert [fault.kind for _, fault in faults] == ["truncated"]


def test_that_a_cell_far_away_does_not_fill_the_memory(tmp_path: Path) -> None:
    workbook = Workbook()
    sheet = workbook.active
    assert sheet is not None
    sheet["A1"] = "case"
    sheet["ZZ1048576"] = "x"
    workbook.save(tmp_path / "a.xlsx")
    grids, faults = read_sheets(tmp_path / "a.xlsx", every_sheet)
    assert grids == []
    assert [(name, fault.kind) for name, fault in faults] == [("Sheet", "stray cell")]
    assert "ZZ1048576" in faults[0][1].message


def test_that_the_name_of_a_sheet_that_cannot_be_read_is_not_said_where_it_tells_of_a_patient(tmp_path: Path) -> None:
    workbook = Workbook()
    sheet = workbook.active
    assert sheet is not None
    sheet.title = "MRN 1234567 Roe"
    sheet["A1"], sheet["ZZ1048576"] = "case", "x"
    workbook.save(tmp_path / "Schedule.xlsx")
    ledger = Ledger()
    read_folder(tmp_path, ledger)
    assert "stray cell" in [problem.kind for problem in ledger.problems()]
    assert "1234567" not in repr(ledger.problems())


@pytest.mark.parametrize("number", ["NaN", "1e999"])
def test_that_what_is_no_number_never_raises(tmp_path: Path, number: str) -> None:
    workbook = Workbook()
    sheet = workbook.active
    assert sheet is not None
    sheet["A1"] = 777
    sheet["A1"].number_format = "00000"
    workbook.save(tmp_path / "a.xlsx")
    alter_part(tmp_path / "a.xlsx", "xl/worksheets/sheet1.xml", lambda xml: xml.replace("777", number))
    (grid,), faults = read_sheets(tmp_path / "a.xlsx", every_sheet)
    assert not faults
    raw = grid.rows[0][0]
    assert [minutes_of_hours(raw), minutes_until("07:30", raw)] == [raw, raw], "it goes on to where it is told"


def test_that_formats_far_away_do_no_harm(tmp_path: Path) -> None:
    workbook = Workbook()
    sheet = workbook.active
    assert sheet is not None
    sheet["A1"] = "case"
    sheet["ZZ1048576"].number_format = "0.00"
    workbook.save(tmp_path / "a.xlsx")
    assert grid_of(tmp_path / "a.xlsx").rows == [["case"]]


NO_SUCH_CELLS = (
    '<c r="ZZZZZZZ3"><v>1</v></c>',
    '<c r="A99999999999"><v>1</v></c>',
    '<c r="A4294967295"><v>1</v></c>',
    '<c r="XFE3"><v>1</v></c>',
    '<c r="A1048577"><v>1</v></c>',
    "<c r = 'zzzzzzz3'><v>1</v></c>",
    '<c\nr="ZZZZZZZ3"><v>1</v></c>',
    '<c r="&#90;ZZZZZZ3"><v>1</v></c>',
)


@pytest.mark.parametrize("cell", NO_SUCH_CELLS)
def test_that_a_cell_that_no_sheet_can_have_is_told_and_not_read(tmp_path: Path, cell: str) -> None:
    """The fast reader ends the whole program at such a reference, so that it must not see it."""
    path = small_workbook(tmp_path / "cards.xlsx")
    alter_part(path, SHEET_PART, lambda xml: xml.replace("</sheetData>", f'<row r="3">{cell}</row></sheetData>'))
    grids, faults = read_sheets(path, every_sheet)
    assert grids == []
    assert [(sheet, fault.kind) for sheet, fault in faults] == [("Sheet", "no such cell")]


@pytest.mark.parametrize(
    ("part", "change"),
    [
        (SHEET_PART, lambda xml: xml.replace('<row r="1"', '<row r="99999999999"')),
        (SHEET_PART, lambda xml: xml.replace("</worksheet>", MERGED.format("A1:ZZZZZZZ99999999999"))),
        (SHEET_PART, lambda xml: xml.replace("</worksheet>", MERGED.format("everything"))),
    ],
    ids=["row", "merged range", "merged range in words"],
)
def test_that_rows_and_ranges_that_no_sheet_can_have_are_told(
    tmp_path: Path, part: str, change: Callable[[str], str]
) -> None:
    path = small_workbook(tmp_path / "cards.xlsx")
    alter_part(path, part, change)
    assert [fault.kind for _, fault in read_sheets(path, every_sheet)[1]] == ["no such cell"]


def test_that_more_shared_texts_than_there_is_room_for_are_a_damaged_workbook(tmp_path: Path) -> None:
    """The fast reader makes room for as many as are announced, and ends the whole program when there is none."""
    path = small_workbook(tmp_path / "cards.xlsx")
    texts = '<sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" uniqueCount="99999999999"/>'
    add_part(path, "xl/sharedStrings.xml", texts.encode())
    assert kind(path) == "truncated"


def test_that_two_parts_of_one_name_are_a_damaged_workbook(tmp_path: Path) -> None:
    path = small_workbook(tmp_path / "cards.xlsx")
    add_part(path, SHEET_PART.upper(), b"<worksheet/>")
    assert kind(path) == "truncated"


def test_that_a_range_merged_to_the_end_of_the_sheet_does_not_fill_the_memory(tmp_path: Path) -> None:
    rows = ["item", "name"], *([f"{n}", "Suture"] for n in range(2000))
    workbook = Workbook()
    sheet = workbook.create_sheet("Items", 0)
    for row in rows:
        sheet.append(row)
    path = tmp_path / "items.xlsx"
    workbook.save(path)
    alter_part(path, SHEET_PART, lambda xml: xml.replace("</worksheet>", MERGED.format("A2:XFD1048576")))
    ledger = Ledger()
    tables = read_folder(tmp_path, ledger)
    tables.rows("Items", ledger)
    assert [one.problem.kind for one in ledger.drafts].count("merged cell") == 1
    assert max(len(row) for row in tables.grids["Items"][0].rows) <= 2


@pytest.mark.parametrize("target", ["xl/worksheets/sheet1.xml", "/xl/worksheets/sheet1.xml", "worksheets/SHEET1.xml"])
def test_that_a_sheet_is_looked_at_however_its_part_is_named(tmp_path: Path, target: str) -> None:
    path = small_workbook(tmp_path / "cards.xlsx")
    alter_part(
        path, SHEET_PART, lambda xml: xml.replace("</sheetData>", f'<row r="3">{NO_SUCH_CELLS[0]}</row></sheetData>')
    )
    alter_part(path, "xl/_rels/workbook.xml.rels", lambda xml: xml.replace("/xl/worksheets/sheet1.xml", target))
    assert [fault.kind for _, fault in read_sheets(path, every_sheet)[1]] == ["no such cell"]
