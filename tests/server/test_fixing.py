"""Problems fixed on the page: a button writes the nearest value into the cell, and Undo puts the file back."""

from __future__ import annotations

import re
from datetime import datetime
from html import unescape
from pathlib import Path

import pytest

from picklist.server.desk import Desk
from picklist.tasks.new_site import make_demo
from tests.server.site import DOOR, at, client_of, ended

NOW = datetime(2026, 11, 25, 18, 0)  # noqa: DTZ001 - the site's wall time


@pytest.fixture
def demo(tmp_path: Path) -> Desk:
    """The made-up hospital, of which the room of D-106 is mistyped."""
    make_demo(tmp_path / "demo", NOW)
    return Desk(tmp_path / "demo", tmp_path / "papers", lambda: NOW)


def look(desk: Desk) -> str:
    """The page of the input once the folder is read."""
    client_of(desk).get(at("input"))
    work = desk.check()
    if work:
        ended(work)
    return str(client_of(desk).get(at("input")).text)


def press(page: str, value: str) -> dict[str, str]:
    """The form of the button of a value."""
    found = re.search(
        rf'name="problem" value="(\d+)"><input type="hidden" name="where" value="([^"]*)">\s*<button[^>]*'
        rf'value="{value}"',
        page,
    )
    assert found, page
    return {"token": DOOR.token, "problem": found[1], "where": unescape(found[2]), "right": value}


def test_the_nearest_value_is_a_button_that_fixes_the_cell_and_can_be_undone(demo: Desk) -> None:
    file = demo.folder / "schedule.xlsx"
    before = file.read_bytes()
    page = look(demo)
    assert "1 to fix" in page
    answer = client_of(demo).post(at("input/fix"), data=press(page, "OR 2"))
    assert answer.status_code == 303, answer.text
    demo = Desk(demo.folder, demo.out, lambda: NOW)  # the page is closed, and opened again another day
    page = look(demo)
    assert "Nothing to fix" in page
    assert "cell C8, column room says OR 2 now" in page
    [number] = re.findall(r"input/fix/(\d+)/undo", page)
    client_of(demo).post(at(f"input/fix/{number}/undo"), data={"token": DOOR.token})
    assert file.read_bytes() == before
    page = look(demo)
    assert "1 to fix" in page
    assert "Fixed here" not in page


def test_a_page_of_yesterday_writes_nothing(demo: Desk) -> None:
    form = press(look(demo), "OR 2")
    before = (demo.folder / "schedule.xlsx").read_bytes()
    for stale in ({"problem": "999"}, {"where": "schedule.xlsx, sheet Schedule, cell C7, column room"}, {"right": " "}):
        assert client_of(demo).post(at("input/fix"), data={**form, **stale}).status_code == 422
    assert (demo.folder / "schedule.xlsx").read_bytes() == before
