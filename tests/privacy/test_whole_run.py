"""A patient's data in every cell, header, name and remark of an evening: nothing that is printed or kept has it."""

from __future__ import annotations

import zipfile
from collections.abc import Iterator
from pathlib import Path

import pypdfium2
import pytest
from openpyxl import Workbook, load_workbook

from picklist.store.state import state_path
from tests.cli.run import run
from tests.inputs.folders import sound_rows
from tests.privacy.seeds import SAID, SURNAME, TRACES, seeded
from tests.privacy.writing import write_as_texts

NOW = "2026-11-25 18:00"
PERSON = "WRENFIELD, Oda F72, MRN 4829130, born 1952-03-04, tel. 312 555-0142"


@pytest.fixture
def site(tmp_path: Path) -> Path:
    """A site in whose tables every column has a row with each seed, with strange columns, sheets and files."""
    folder = tmp_path / "site"
    rows = sound_rows()
    for seed in (*SAID, SURNAME):
        seeded(rows, seed)
    write_as_texts(folder, {name: lines for name, lines in rows.items() if name != "Schedule"})
    write_as_texts(tmp_path / "schedule", {"Schedule": rows["Schedule"]})
    _as_workbook(tmp_path / "schedule" / "Schedule.csv", folder / "evening.xlsx")
    (folder / f"{SAID[0]}.csv").write_text(PERSON, encoding="utf-8")
    (folder / f"{SAID[1]}.txt").write_text(PERSON, encoding="utf-8")
    return folder


def _as_workbook(csv_file: Path, target: Path) -> None:
    """The schedule as another program exports it: columns and a sheet that are nobody's business."""
    book = Workbook()
    sheet = book.create_sheet("Schedule")
    for number, line in enumerate(csv_file.read_text(encoding="utf-8").splitlines()):
        sheet.append([*_cells(line), PERSON if number else SAID[0], SURNAME])
    book.create_sheet("WRENFIELD, Oda F72").append([PERSON])
    book.remove(book.worksheets[0])
    book.save(target)


def _cells(line: str) -> list[str]:
    import csv

    return next(iter(csv.reader([line])))


def test_that_an_evening_keeps_and_prints_nothing_of_a_patient(site: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    told = [run("check", str(site), "--now", NOW), run("check", str(site), "--now", NOW, "--json")]
    told.append(run("build", str(site), "--now", NOW, "--out", str(out), "--no-chance"))
    assert (out / "plan.json").is_file()
    told.append(run("carts", str(site), str(_filled(out / "carts.xlsx")), "--now", NOW))
    scans = tmp_path / "scans.txt"
    scans.write_text(f"C-1\nNOTE {PERSON}\n{PERSON}\nMISSING {PERSON}\nBY {SAID[0]}\nDONE\n", encoding="utf-8")
    told.append(run("scan", str(site), str(scans), "--now", NOW))
    told.append(run("morning", str(site), "--out", str(tmp_path / "morning.pdf"), "--now", "2026-11-26 06:00"))
    told.append(run("records", str(site), "--out", str(tmp_path / "records")))
    told.append(run("build", str(site), "--now", NOW, "--out", str(out), "--no-chance"))
    printed = "\n".join(f"{said}\n{problems}" for _, said, problems in told)
    assert "Traceback" not in printed
    assert _traces(printed) == []
    kept = [*out.rglob("*"), *(tmp_path / "records").rglob("*"), tmp_path / "morning.pdf"]
    kept += tmp_path.glob("*.picklist.sqlite*")
    assert len(kept) > 20
    assert {str(path): found for path in kept if path.is_file() and (found := _traces(_text_of(path)))} == {}


def _filled(workbook: Path) -> Path:
    """The form of the carts with a patient in every cell that can be filled."""
    book = load_workbook(workbook)
    for sheet in book.worksheets:
        for row in sheet.iter_rows(min_row=4):
            for cell in row:
                if cell.value is None and not cell.protection.locked:
                    cell.value = PERSON
    carts = book["Carts"]
    header = [cell.value for cell in carts[3]]
    carts.cell(4, header.index("done") + 1).value = "yes"
    target = workbook.with_name("filled.xlsx")
    book.save(target)
    return target


def _traces(text: str) -> list[str]:
    return [trace for trace in TRACES if trace in text]


def _text_of(path: Path) -> str:
    if path.suffix == ".pdf":
        return "\n".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(path))
    if path.suffix == ".xlsx":
        return "" if path.name == "filled.xlsx" else "\n".join(_parts(path))
    return path.read_bytes().decode("latin-1")


def _parts(path: Path) -> Iterator[str]:
    with zipfile.ZipFile(path) as archive:
        yield from (archive.read(name).decode("utf-8", "replace") for name in archive.namelist())


def test_that_the_state_is_its_owners_alone(site: Path, tmp_path: Path) -> None:
    path = state_path(site)
    path.touch(mode=0o644)
    run("build", str(site), "--now", NOW, "--out", str(tmp_path / "out"), "--no-chance")
    assert path.stat().st_mode & 0o777 == 0o600
