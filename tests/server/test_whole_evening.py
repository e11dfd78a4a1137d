"""The page does what the command line does: each command has its place there, and what goes out can be saved."""

from __future__ import annotations

import io
import zipfile
from datetime import UTC, date, datetime
from html import unescape
from pathlib import Path

import pytest
from starlette.routing import Mount, Route
from typer.main import get_command

from picklist.cli.command_line import app as command_line
from picklist.server.app import make_app
from picklist.server.desk import Desk
from picklist.tables.json_schema import site_schema
from picklist.tasks.calibrate import Calibrated
from picklist.tasks.message_files import receive_from
from tests.messages.words import siu
from tests.server.site import DOOR, at, client_of, work_of

# Where each command is on the page.
PLACES = {
    "build": "/build",
    "check": "/input",
    "why": "/why",
    "try": "/try",
    "tables": "/tables",
    "carts": "/input",
    "scan": "/scan",
    "morning": "/papers/morning",
    "calendar": "/papers/calendars",
    "records": "/papers/records",
    "headers": "/input/export/{number}",
    "receive": "/input",
    "used": "/input",
    "settle": "/after/settle",
    "suggest": "/after",
    "calibrate": "/after/calibration",
    "demo": "/first/demo",
    "blank": "/first/blank",
    "listen": "/input",  # what arrived, and how to start it: it runs without a browser
    "cards send": "/offices/workbooks",
    "cards take": "/offices",
    "cards show": "/offices/effect/{work}",
    "cards approve": "/offices/proposal/{proposal}/approve",
    "cards list": "/offices",
    "cards reject": "/offices/proposal/{proposal}/reject",
    "cards answer": "/offices/request/{request}/answer",
    "cards undo": "/offices/undo",
    "cards history": "/offices/history",
    "cards tidy": "/offices/tidy",
}
WITHOUT = {"open"}


def test_that_each_command_has_its_place_on_the_page(fresh: Desk) -> None:
    commands = get_command(command_line).commands  # type: ignore[attr-defined]
    names = {name for name in commands if name != "cards"} | {f"cards {name}" for name in commands["cards"].commands}
    assert len(names) > 20
    assert names == set(PLACES) | WITHOUT
    [mount] = [one for one in make_app(fresh, DOOR).routes if isinstance(one, Mount)]
    routes = {one.path for one in mount.routes if isinstance(one, Route)}
    assert set(PLACES.values()) - routes == set()


@pytest.mark.parametrize(("what", "holds"), [("records", "built cart.csv"), ("calendars", "Coordinator.ics")])
def test_records_and_calendars_are_saved_as_one_file(evening: Desk, what: str, holds: str) -> None:
    answer = client_of(evening).post(at(f"papers/{what}"), data={"token": DOOR.token})
    assert answer.headers["content-type"] == "application/zip"
    names = zipfile.ZipFile(io.BytesIO(answer.content)).namelist()
    assert holds in names, names


def test_the_workbooks_of_all_offices_come_in_one_file_and_each_is_known_when_it_comes_back(fresh: Desk) -> None:
    client = client_of(fresh)
    work = work_of(fresh, client.post(at("offices/workbooks"), data={"token": DOOR.token}).headers["location"])
    page = client.get(at(work.next)).text
    archive = zipfile.ZipFile(io.BytesIO(client.get(at(f"{work.next}/all")).content))
    names = archive.namelist()
    assert len(names) > 5
    assert all(name.removesuffix(".xlsx") in page for name in names)
    book = {"file": (names[0], archive.read(names[0]))}
    answer = client.post(at("input"), data={"token": DOOR.token}, files=book)
    back = work_of(fresh, answer.headers["location"])
    assert "offices/back/" in back.next
    assert client.get(at(back.next)).status_code == 200
    assert "has been changed yet" in client.get(at("offices/history")).text
    tidied = work_of(fresh, client.post(at("offices/tidy"), data={"token": DOOR.token}).headers["location"])
    assert "Cards to clean up" in client.get(at(tidied.next)).text


def test_a_case_alone_and_the_tables_are_explained(evening: Desk) -> None:
    client = client_of(evening)
    assert "C-4123" in client.get(at("why"), params={"case": "C-4123"}).text
    assert "quantity" in client.get(at("tables")).text


def test_a_build_takes_paper_clock_and_no_chances_from_the_page(fresh: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    asked = []
    monkeypatch.setattr("picklist.server.desk.build_day", lambda wanted, *_told: asked.append(wanted))
    form = {"token": DOOR.token, "day": "2026-11-26", "paper": "Letter", "clock": "12", "chance": "no"}
    work_of(fresh, client_of(fresh).post(at("build"), data=form).headers["location"])
    [wanted] = asked
    assert (wanted.day, wanted.paper, wanted.clock, wanted.with_chance) == (date(2026, 11, 26), "Letter", 12, False)
    assert client_of(fresh).post(at("build"), data=form | {"clock": "13"}).status_code == 422


def test_the_risk_figures_are_judged_on_the_page_with_the_words_and_points_of_the_printed_one(fresh: Desk) -> None:
    client = client_of(fresh)
    work = work_of(fresh, client.post(at("after/calibration"), data={"token": DOOR.token}).headers["location"])
    assert isinstance(work.result, Calibrated), work.refused
    page, text = work.result.page(), unescape(client.get(at(work.next)).text)
    assert len(page.points) > 5
    assert text.count("<circle") == len(page.points)
    assert all(line in text for line in page.lines)
    assert all(word in text for row in page.rows for word in row)


def test_what_other_systems_sent_is_on_the_page_of_the_input(fresh: Desk, tmp_path: Path) -> None:
    client = client_of(fresh)
    nothing = client.get(at("input")).text
    assert "picklist listen" in nothing
    assert "about cases so far" not in nothing
    (tmp_path / "a.hl7").write_text(siu("S12"), newline="")
    receive_from(fresh.folder, [tmp_path / "a.hl7"], datetime.now(UTC))
    assert "1 message about cases so far" in client.get(at("input")).text


def test_suggestions_from_fewer_cases_and_the_schema_are_asked_for_on_the_page(evening: Desk) -> None:
    client = client_of(evening)
    assert "it takes 1 reported case " in client.get(at("after"), params={"least": "1"}).text
    assert client.get(at("tables/schema")).json() == site_schema()
