"""A small evening: three rooms of the sample hospital on one day, without chances, so that a build is quick."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import openpyxl

from tests.kept import made_once

Row = dict[str, Any]
HOSPITAL = Path(__file__).parents[1] / "sample_inputs" / "hospital"
ROOMS = {"OR 1", "OR 2", "OR 5"}
LAST_DAY = date(2026, 11, 26)


def small_hospital(folder: Path) -> Path:
    """A copy of the sample with fewer cases, and with the cards of their procedures alone."""
    folder.mkdir(parents=True)
    for name, data in made_once("small hospital", _files).items():
        (folder / name).write_bytes(data)
    return folder


def _files() -> dict[str, bytes]:
    with TemporaryDirectory() as place:
        folder = Path(shutil.copytree(HOSPITAL, Path(place) / "hospital"))
        done = _keep_rows(folder / "schedule.xlsx", "Schedule", _in_small_evening)
        done_here = {procedure for row in done for procedure in row["procedures"].split("; ")}
        _keep_rows(folder / "cards.xlsx", "Cards", lambda row: row["procedure"] in done_here)
        book = openpyxl.load_workbook(folder / "settings.xlsx")
        for name, value in book["Settings"].iter_rows(min_row=2, max_col=2):
            if name.value == "draws":
                value.value = "0"
        book.save(folder / "settings.xlsx")
        return {path.name: path.read_bytes() for path in folder.iterdir()}


def _in_small_evening(row: Row) -> bool:
    day = row["day"].date()
    return bool(day < LAST_DAY or (day == LAST_DAY and row["room"] in ROOMS))


def _keep_rows(path: Path, name: str, wanted: Callable[[Row], bool]) -> list[Row]:
    """Leave only the wanted rows of a sheet, and give them."""
    book = openpyxl.load_workbook(path)
    sheet = book[name]
    heads, *lines = sheet.iter_rows(values_only=True)
    rows = [dict(zip(map(str, heads), line, strict=True)) for line in lines]
    kept = [row for row in rows if wanted(row)]
    sheet.delete_rows(2, len(rows))
    for row in kept:
        sheet.append(list(row.values()))
    book.save(path)
    return kept
