"""A patient's data in every cell, header, name and remark of an evening: nothing that is printed or kept has it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from openpyxl import Workbook, load_workbook

from picklist.store.state import state_path
from tests.cli.run import run
from tests.inputs.folders import sound_rows
from tests.privacy.seeded_site import NOW, PERSON, text_of, traces
from tests.privacy.seeds import SAID, SURNAME, seeded
from tests.privacy.writing import write_as_texts

LATER = "2026-11-26 20:00"


@pytest.fixture
def site(tmp_path: Path) -> Path:
    """A site in whose tables every column has a row with each seed, with strange columns, sheets and files."""
    folder = tmp_path / "site"
    rows = sound_rows()
    for seed in (*SAID, SURNAME):
        seeded(rows, seed)
    for row in rows["Cards"][len(sound_rows()["Cards"]) :]:  # they would put all lists on hold, so that none is printed
        if row.setdefault("approved", "no") != "no":
            row["procedure"] = "QQQQ"
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
    assert "Sponge" in text_of(out / "pick-lists.pdf"), "at least one list must be printed"
    told.append(run("carts", str(site), str(_filled(out / "carts.xlsx")), "--now", NOW))
    scans = tmp_path / "scans.txt"
    scans.write_text(f"C-1.R1\nNOTE {PERSON}\n{PERSON}\nMISSING {PERSON}\nBY {SAID[0]}\nDONE\n", encoding="utf-8")
    told.append(run("scan", str(site), str(scans), "--now", NOW))
    told.append(run("morning", str(site), "--out", str(tmp_path / "morning.pdf"), "--now", "2026-11-26 06:00"))
    told.append(run("used", str(site), str(_used(out / "used.xlsx")), "--day", "2026-11-26", "--now", LATER))
    settle = ("settle", str(site), "--day", "2026-11-26", "--now", LATER)
    told += [run(*settle), run(*settle, "--write"), run(*settle, "--write")]
    assert re.search(r"[1-9]\d* cells written", told[-2][1]), told[-2]
    told.append(run("suggest", str(site), "--least-cases", "1"))
    told.append(run("records", str(site), "--out", str(tmp_path / "records")))
    told.append(run("build", str(site), "--now", NOW, "--out", str(out), "--no-chance"))
    printed = "\n".join(f"{said}\n{problems}" for _, said, problems in told)
    assert "Traceback" not in printed
    assert traces(printed) == []
    (out / "filled.xlsx").unlink()
    (out / "used filled.xlsx").unlink()
    kept = [*out.rglob("*"), *(tmp_path / "records").rglob("*"), tmp_path / "morning.pdf"]
    kept += tmp_path.glob("*.picklist.sqlite*")
    assert len(kept) > 20
    assert {str(path): found for path in kept if path.is_file() and (found := traces(text_of(path)))} == {}


def _used(workbook: Path) -> Path:
    """The form of what was used: C-1 used what was open; below, and in every other box, a patient."""
    book = load_workbook(workbook)
    sheet = book.worksheets[0]
    at = {cell.value: place for place, cell in enumerate(sheet[3])}
    for row in sheet.iter_rows(min_row=4):
        if row[0].value == "C-1":
            row[at["used"]].value = row[at["open"]].value
        else:
            for cell in row:
                if cell.value is None:
                    cell.value = PERSON
    target = workbook.with_name("used filled.xlsx")
    book.save(target)
    return target


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


def test_that_the_state_is_its_owners_alone(site: Path, tmp_path: Path) -> None:
    path = state_path(site)
    path.touch(mode=0o644)
    run("build", str(site), "--now", NOW, "--out", str(tmp_path / "out"), "--no-chance")
    assert path.stat().st_mode & 0o777 == 0o600
