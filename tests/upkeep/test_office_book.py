"""The office's workbook: drop-downs, protection, print set-up, and other programs that open it."""

from __future__ import annotations

import csv
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from picklist.model.catalogue import Item
from picklist.upkeep.office_book import write_office_workbook
from picklist.upkeep.office_compare import compare_return
from picklist.upkeep.office_plan import plan_office_book
from picklist.upkeep.owners import Owner, find_owner
from tests.patience import PATIENCE
from tests.upkeep.clinic import DAY, KNEE_BASE, QUILL, TARN, read_clinic, write_clinic
from tests.upkeep.office import changes_of, fill_in, new_row, returned, row_of, send, take_back, write

SOFFICE = shutil.which("soffice")
needs_libreoffice = pytest.mark.skipif(SOFFICE is None, reason="LibreOffice is not on this machine")


def test_that_lines_say_where_they_come_from(clinic: Path, tmp_path: Path) -> None:
    sheet = openpyxl.load_workbook(send(clinic, tmp_path / "quill.xlsx"))["KNEE"]
    found = {sheet.cell(n, 2).value: [sheet.cell(n, column).value for column in (3, 4, 6, 8)] for n in range(6, 12)}
    assert found["Knee basic (T-KNEE)"] == [1, 0, None, "base card"]
    assert found["Knee pack (PK-1)"] == [1, 0, None, "pack of the procedure"]
    assert found["Sponge, 10 pack (100002)"] == [0, 0, "no longer", "own; base card: 1 open"]
    assert found["Suture 3-0 (100007)"] == [1, 0, None, "own"]
    assert sheet.cell(row_of(sheet, "100007"), 2).font.bold
    assert not sheet.cell(row_of(sheet, "100001"), 2).font.bold


def test_that_only_the_boxed_cells_can_be_written(clinic: Path, tmp_path: Path) -> None:
    workbook = openpyxl.load_workbook(send(clinic, tmp_path / "quill.xlsx"))
    assert workbook.security.lockStructure
    sheet = workbook["KNEE"]
    assert sheet.protection.sheet
    assert sheet.protection.password is None
    line = [not sheet.cell(row_of(sheet, "100001"), column).protection.locked for column in range(1, 11)]
    assert line == [False, True, True, True, True, True, False, False, False, False]
    for row in sheet.iter_rows(min_row=6, max_col=8):
        for cell in row:
            assert (not cell.protection.locked) == bool(cell.border.left and cell.border.left.style), cell.coordinate


def test_that_it_prints_with_its_header_on_every_page(clinic: Path, tmp_path: Path) -> None:
    sheet: Any = openpyxl.load_workbook(send(clinic, tmp_path / "quill.xlsx"))["KNEE"]
    assert sheet.print_title_rows == "$5:$5"
    assert (sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight) == (1, 0)
    assert sheet.sheet_properties.pageSetUpPr.fitToPage
    assert "&P" in sheet.oddFooter.right.text


def test_that_drop_downs_reach_five_thousand_items(clinic: Path, tmp_path: Path) -> None:
    site = read_clinic(clinic)
    many = {str(n): Item(id=str(n), name=f"Suture kind {n - 200000}, 75 cm") for n in range(200000, 205000)}
    path = tmp_path / "many.xlsx"
    write_office_workbook(replace(site, items={**site.items, **many}), QUILL, path, day=DAY)
    workbook = openpyxl.load_workbook(path)
    place = workbook.defined_names["ItemNames"].attr_text
    assert place == "Lists!$C$1:$C$5008"
    listed = [cell.value for cell in workbook["Lists"]["C"]]
    assert len(listed) == 5008
    assert "Suture kind 4321, 75 cm (204321)" in listed
    assert "Old drain (100009)" not in listed  # retired
    formulas = {str(one.formula1) for one in workbook["KNEE"].data_validations.dataValidation}
    assert "TrayNames" in formulas
    assert all(len(formula) <= 255 for formula in formulas)
    fill_in(path, lambda sheet: write(sheet, new_row(sheet), name="Suture kind 4321, 75 cm (204321)", open=2))
    comparison = compare_return(replace(site, items={**site.items, **many}), returned(path), DAY)
    assert changes_of(comparison) == {"204321": (2, 0)}


@pytest.mark.usefixtures("packed_afresh")
def test_that_the_same_cards_give_the_same_bytes(clinic: Path, tmp_path: Path) -> None:
    one, other = send(clinic, tmp_path / "one.xlsx"), send(clinic, tmp_path / "other.xlsx")
    assert one.read_bytes() == other.read_bytes()


def test_that_another_pack_of_the_procedure_makes_another_version(clinic: Path) -> None:
    site = read_clinic(clinic)
    bare = {**site.procedures, "KNEE": replace(site.procedures["KNEE"], pack="")}
    versions = {plan_office_book(one, QUILL, DAY).stamp.version for one in (site, replace(site, procedures=bare))}
    assert len(versions) == 2


def test_that_a_service_gets_its_base_cards(clinic: Path, tmp_path: Path) -> None:
    workbook = openpyxl.load_workbook(send(clinic, tmp_path / "base.xlsx", KNEE_BASE))
    assert workbook.sheetnames == ["Start here", "KNEE", "Lists", "Stamp"]
    sheet = workbook["KNEE"]
    assert sheet.cell(row_of(sheet, "100001"), 3).value == 2


def test_that_an_office_is_found_by_number_name_or_service(clinic: Path) -> None:
    site = read_clinic(clinic)
    assert find_owner(site, "s01") == QUILL
    assert find_owner(site, "dr tarn") == TARN
    assert find_owner(site, "orthopedics") == Owner(service="Orthopedics")
    assert find_owner(site, "Dr. Quil") == ("S01",)


def test_that_names_with_signs_stay_texts(tmp_path: Path) -> None:
    rows = [{"procedure": "KNEE", "kind": "item", "thing": "100001", "open": 1, "note": "=2+3 & <b> 'x'"}]
    clinic = write_clinic(tmp_path / "clinic", cards=rows)
    path = send(clinic, tmp_path / "quill.xlsx")
    sheet = openpyxl.load_workbook(path)["KNEE"]
    cell = sheet.cell(row_of(sheet, "100001"), 5)
    assert (cell.value, cell.data_type) == ("=2+3 & <b> 'x'", "s")
    assert not take_back(clinic, path).proposal.changes


def convert(path: Path, to: str, folder: Path) -> None:
    profile = folder / "profile"
    command = [SOFFICE or "", f"-env:UserInstallation={profile.as_uri()}", "--headless", "--convert-to", to]
    done = subprocess.run(
        [*command, "--outdir", str(folder), str(path)], capture_output=True, timeout=PATIENCE, check=False
    )
    assert done.returncode == 0, done.stderr
    assert b"rror" not in done.stderr, done.stderr


@needs_libreoffice
def test_that_a_filled_line_offers_the_whole_list(clinic: Path, tmp_path: Path) -> None:
    """The list is cut short by the beginning of an entry, not by the entry that stands in the cell."""
    book = send(clinic, tmp_path / "quill.xlsx")
    written = ("Suture 3-0 (100007)", "Sut", "dr", None, "no such thing")

    def count(sheet: Any) -> None:
        row = row_of(sheet, "100007")
        choices = sheet.data_validations.dataValidation
        formula = next(str(one.formula1) for one in choices if f"B{row}" in one.sqref and "ItemNames" in one.formula1)
        first = str(next(one for one in choices if f"B{row}" in one.sqref).sqref).split()[0].split(":")[0]
        for number, text in enumerate(written, start=1):
            at = f"K{number}"
            sheet[at] = text
            sheet[f"L{number}"] = f"=ROWS({formula.replace(f'${first}', at)})"

    fill_in(book, count)
    convert(book, "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,true,false,false,false,2", tmp_path)
    with (tmp_path / "quill-KNEE.csv").open(encoding="utf-8") as file:
        counted = [row[11] for row in csv.reader(file)][: len(written)]
    items = str(len(read_clinic(clinic).items) - 1)  # one is retired
    assert counted == [items, "2", "1", items, items]


@needs_libreoffice
def test_that_libreoffice_opens_saves_and_prints_it(clinic: Path, tmp_path: Path) -> None:
    """Filled in, saved by LibreOffice as a workbook and as one CSV file a sheet, and taken back."""
    book = send(clinic, tmp_path / "quill.xlsx")
    fill_in(book, lambda sheet: write(sheet, row_of(sheet, "100001"), open=5, note="für später; bald"))
    out = tmp_path / "out"
    out.mkdir()
    convert(book, "xlsx", out)
    convert(book, "csv:Text - txt - csv (StarCalc):59,34,76,1,,0,false,true,false,false,false,-1", out)
    convert(book, "pdf", out)
    saved = openpyxl.load_workbook(out / "quill.xlsx")
    formulas = {str(one.formula1) for one in saved["KNEE"].data_validations.dataValidation}
    assert "TrayNames" in formulas
    assert saved["KNEE"].protection.sheet
    for name in ("quill.xlsx", "quill-KNEE.csv"):
        comparison = take_back(clinic, out / name)
        assert changes_of(comparison) == {"100001": (5, 1)}, name
        assert comparison.proposal.changes[0].after is not None
        assert comparison.proposal.changes[0].after.note == "für später; bald"
        assert not comparison.problems
    assert (out / "quill.pdf").stat().st_size > 10_000
