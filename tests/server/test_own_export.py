"""A hospital's own export dropped on the page: its headers are asked for once, and only what has a meaning is kept."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from picklist.server.desk import Desk
from picklist.server.form_pages import TriedFile
from picklist.tasks.own_export import TAKEN_AS
from tests.inputs.exports import SEMICOLONS, TWELVE_HOURS
from tests.inputs.test_exports import PATIENT
from tests.server.site import DOOR, at, client_of, work_of
from tests.tasks.test_learning_exports import NOW, SAID, site_and_file


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """A site without a schedule."""
    site, _ = site_and_file(tmp_path, TWELVE_HOURS)
    return Desk(site, tmp_path / "papers", lambda: NOW)


def drop(desk: Desk, name: str, data: bytes) -> str:
    answer = client_of(desk).post(at("input"), data={"token": DOOR.token}, files={"file": (name, data)})
    assert answer.status_code == 303, answer.text
    return str(answer.headers["location"])


def fields(page: str) -> dict[str, str]:
    """What stands in the form as it is shown."""
    found = dict(re.findall(r'name="(code-\d+)" value="([^"]*)"', page))
    for name, options in re.findall(r'<select name="(means-\d+)"[^>]*>(.*?)</select>', page, flags=re.DOTALL):
        [chosen] = re.findall(r'value="([^"]*)" selected', options)
        found[name] = chosen
    return {"token": DOOR.token, **found}


def test_an_export_is_asked_about_remembered_and_kept_without_its_other_columns(desk: Desk) -> None:
    place = drop(desk, TWELVE_HOURS.name, TWELVE_HOURS.data)
    page = client_of(desk).get(place).text
    assert "QUILL" in page
    assert [trace for trace in PATIENT if trace in page] == []
    answer = client_of(desk).post(place, data={**fields(page), "do": "keep"})
    work = work_of(desk, answer.headers["location"])
    assert not work.refused, work.refused
    trial = client_of(desk).get(at(work.next)).text
    assert ">Keep it<" in trial
    client_of(desk).post(at(f"{work.next}/keep"), data={"token": DOOR.token})
    kept = (desk.folder / TAKEN_AS).read_text(encoding="utf-8-sig")
    assert kept.startswith("Date,Room,Time,Length,Case No.,Surgeon,Procedure,Lat")
    assert [trace for trace in PATIENT if trace in kept] == []


def test_nothing_is_written_while_a_needed_column_has_no_header(desk: Desk) -> None:
    place = at(f"input/export/{_number(desk)}")
    page = client_of(desk).get(place).text
    wanting = {**fields(page), "do": "keep"}
    wanting["means-0"] = "nothing"
    answer = client_of(desk).post(place, data=wanting)
    assert "No header means day yet; nothing was written." in answer.text
    assert not (desk.folder / "export.xlsx").exists()
    assert fields(answer.text)["means-1"] == fields(page)["means-1"]  # what was chosen stays


def _number(desk: Desk) -> str:
    return drop(desk, TWELVE_HOURS.name, TWELVE_HOURS.data).rsplit("/", 1)[-1]


def test_a_file_that_is_no_schedule_goes_the_usual_way(desk: Desk) -> None:
    assert "/work/" in drop(desk, "remarks.csv", b"a,b\n1,2\n")
    place = drop(desk, "prices.csv", b"item,price,unit,maker,shelf,note\n1,2,each,x,A,y\n")
    answer = client_of(desk).post(place, data={"token": DOOR.token, "do": "as it is"})
    assert "/work/" in answer.headers["location"]
    assert client_of(desk).get(place).status_code == 404
    (desk.folder / "prices.csv").write_bytes(b"item,price\n")
    place = drop(desk, "prices (1).csv", b"item,price,unit,maker,shelf,note\n1,2,each,x,A,y\n")
    answer = client_of(desk).post(place, data={"token": DOOR.token, "do": "as it is"})
    tried = work_of(desk, answer.headers["location"]).result
    assert isinstance(tried, TriedFile)
    assert (tried.trial.name, tried.trial.replaces) == ("prices.csv", True), "a second download, as any other file"


def test_headers_in_words_that_are_not_known_are_asked_for(desk: Desk) -> None:
    place = drop(desk, SEMICOLONS.name, SEMICOLONS.data)
    page = client_of(desk).get(place).text
    assert "Still needed: case, day, room" in page
    said = dict(one.split("=") for one in SAID[SEMICOLONS.name].split(";"))
    heads = re.findall(r'<td class="head"><strong>([^<]*)</strong>', page)
    form = {f"means-{n}": said.get(head, "nothing") for n, head in enumerate(heads)} | {"token": DOOR.token}
    page = client_of(desk).post(place, data=form).text
    assert "Still needed" not in page
    assert fields(page)["code-0"] == "OR 1"
