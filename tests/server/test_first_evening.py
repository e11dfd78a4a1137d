"""An empty state says what to do next, on the page and in the terminal; a button makes a site of an empty folder."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import pytest

from picklist.server.desk import Desk
from picklist.tasks.new_site import make_demo
from tests.cli.run import run
from tests.server.site import DOOR, at, client_of, ended

NOW = datetime(2026, 11, 25, 18, 0)  # noqa: DTZ001 - the site's wall time


def tonight(desk: Desk) -> str:
    """The first page once the folder is read."""
    client_of(desk).get(at())
    work = desk.check()
    if work:
        ended(work)
    return str(client_of(desk).get(at()).text)


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    (tmp_path / "north").mkdir()
    return Desk(tmp_path / "north", tmp_path / "papers", lambda: NOW)


@pytest.mark.parametrize(("button", "files"), [("demo", 6), ("blank", 2)])
def test_an_empty_folder_becomes_a_site_by_a_button(desk: Desk, button: str, files: int) -> None:
    page = tonight(desk)
    assert "This folder has no workbooks yet" in page
    assert at(f"first/{button}") in page
    client_of(desk).post(at(f"first/{button}"), data={"token": DOOR.token})
    assert len(list(desk.folder.glob("*.xlsx"))) == files
    page = tonight(desk)
    assert "This folder has no workbooks yet" not in page
    assert "2026-11-26" in page  # a day that can be built
    assert client_of(desk).post(at("first/demo"), data={"token": DOOR.token}).status_code == 422


@pytest.mark.parametrize(
    ("gone", "on_page", "in_terminal"),
    [
        ("schedule.xlsx", "The schedule is missing", "Next: put the schedule into the folder"),
        ("cards.xlsx", "The preference cards are missing", "Next: put the preference cards into the folder"),
        ("", "The schedule has no case to come", "Next: the schedule has no case to come"),
    ],
)
def test_what_is_missing_is_the_next_step(desk: Desk, gone: str, on_page: str, in_terminal: str) -> None:
    made = NOW if gone else NOW - timedelta(days=9)
    make_demo(desk.folder, made)
    if gone:
        (desk.folder / gone).unlink()
    assert on_page in tonight(desk)
    assert in_terminal in run("check", str(desk.folder), "--now", "2026-11-25 18:00")[1]


def test_the_terminal_says_how_to_start(tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    said = run("build", str(tmp_path / "empty"), "--out", str(tmp_path / "out"))[1]
    assert f"picklist demo {tmp_path / 'empty'}" in said
    assert "picklist demo" in run("check", str(tmp_path / "nowhere"))[2]
