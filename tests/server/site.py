"""A small evening: three rooms of the sample hospital on one day, without chances, so that a build is quick."""

from __future__ import annotations

import re
import shutil
import warnings
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path
from typing import Any

import openpyxl

from picklist.server.app import make_app
from picklist.server.desk import Desk
from picklist.server.front_door import FrontDoor
from picklist.server.work import LongTask
from tests.patience import PATIENCE

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # newer versions ask for another client library; this one serves as well
    from starlette.testclient import TestClient

Row = dict[str, Any]
HOSPITAL = Path(__file__).parents[2] / "sample_inputs" / "hospital"
ROOMS = {"OR 1", "OR 2", "OR 5"}
LAST_DAY = date(2026, 11, 26)
NOW = datetime(2026, 11, 25, 18, 0)  # noqa: DTZ001 - the site's wall time
PORT = 8123
DOOR = FrontDoor(port=PORT, base="/base-of-this-run", key="start-key", session="session-word", token="form-token")


def small_hospital(folder: Path) -> Path:
    """A copy of the sample with fewer cases, and with the cards of their procedures alone."""
    shutil.copytree(HOSPITAL, folder)
    done = keep_rows(folder / "schedule.xlsx", "Schedule", in_small_evening)
    done_here = {procedure for row in done for procedure in row["procedures"].split("; ")}
    keep_rows(folder / "cards.xlsx", "Cards", lambda row: row["procedure"] in done_here)
    book = openpyxl.load_workbook(folder / "settings.xlsx")
    for name, value in book["Settings"].iter_rows(min_row=2, max_col=2):
        if name.value == "draws":
            value.value = "0"
    book.save(folder / "settings.xlsx")
    return folder


def in_small_evening(row: Row) -> bool:
    day = row["day"].date()
    return bool(day < LAST_DAY or (day == LAST_DAY and row["room"] in ROOMS))


def keep_rows(path: Path, name: str, wanted: Callable[[Row], bool]) -> list[Row]:
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


def desk_of(folder: Path) -> Desk:
    return Desk(folder, folder.with_name(f"{folder.name} papers"), lambda: NOW)


def client_of(desk: Desk, *, inside: bool = True) -> TestClient:
    """A browser of this computer's user, after or before the start link."""
    client = TestClient(
        make_app(desk, DOOR), base_url=f"http://127.0.0.1:{PORT}", follow_redirects=False, raise_server_exceptions=True
    )
    if inside:
        client.cookies.set(DOOR.cookie, DOOR.session, path=DOOR.base)
        client.headers["sec-fetch-site"] = "same-origin"
    return client


def at(page: str = "") -> str:
    return f"{DOOR.base}/{page}"


def work_begun(desk: Desk, location: str) -> LongTask:
    """The work that an answer leads to."""
    found = re.search(r"/work/(\d+)$", location)
    assert found, location
    work = desk.workshop.find(found[1])
    assert work is not None
    return work


def work_of(desk: Desk, location: str) -> LongTask:
    """The finished work that an answer leads to."""
    return ended(work_begun(desk, location))


def ended(work: LongTask) -> LongTask:
    """A piece of work once it has come to its end, however long this machine takes."""
    assert work.done.wait(PATIENCE), f"still at: {work.stage}"
    return work


def build(desk: Desk) -> None:
    """Build the lists, as the button does."""
    work = ended(desk.build(None, {}))
    assert not work.refused, work.refused
