"""``calibrate`` as a coordinator runs it: the table, the page, too few past cases, and places that refuse the page."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path

import pypdfium2
import pytest

import picklist
from tests.cli.run import FINE, WRONG_USE, run
from tests.department.test_calibration import past_days
from tests.tasks.small_folder import write_folder

pytestmark = pytest.mark.printed
NOW = "2026-11-25 18:00"
HEAD = "procedure,surgeon,planned minutes,actual minutes,room,planned start,actual start"


def site_of(folder: Path, cases: int, name: str = "Example Hospital") -> Path:
    """A small site with so many past cases of its only procedure."""
    rows = [
        f"P1,S1,{one.planned_minutes},{one.actual_minutes},{one.room},{one.planned_start:%Y-%m-%d %H:%M},"
        f"{one.actual_start:%Y-%m-%d %H:%M}"
        for one in past_days(cases)
    ]
    past = "\n".join((HEAD, *rows)) + "\n"
    settings = f"setting,value\nsite,{name}\ntime zone,UTC\ndraws,500\n"
    tables = {"Settings": settings, "Past cases": past}
    return write_folder(folder, "M1,2026-11-26,OR 1,08:00,60,S1,P1,none,planned", **tables)


def test_that_the_table_and_a_page_of_one_sheet_come_out(tmp_path: Path) -> None:
    site, out = site_of(tmp_path / "site", 180), tmp_path / "out"
    code, said, _ = run("calibrate", str(site), "--out", str(out), "--now", NOW)
    assert code == FINE
    assert "Brier score" in said
    assert "50 to 60 %" in said
    assert [one.name for one in out.iterdir()] == ["calibration.pdf"]
    with pypdfium2.PdfDocument(out / "calibration.pdf") as page:
        text = page[0].get_textpage().get_text_bounded()
        assert len(page) == 1
    assert "Do the risk figures come true?" in text
    assert "50 to 60 %" in text
    code, said, _ = run("calibrate", str(site), "--now", NOW, "--json")
    facts = json.loads(said)
    assert facts["judged"] == 63
    table = picklist.calibration_table(picklist.calibrate_site(site, datetime.fromisoformat(NOW)).found)
    assert table["happened"].tolist() == [one["happened"] for one in facts["bins"]]


def test_that_too_few_past_cases_are_said_plainly(tmp_path: Path) -> None:
    site, out = site_of(tmp_path / "site", 18), tmp_path / "out"
    code, said, _ = run("calibrate", str(site), "--out", str(out), "--now", NOW)
    assert code == FINE
    assert said.startswith("Too few past cases to judge the risk figures by: 18 can be used, 90 are needed.")
    with pypdfium2.PdfDocument(out / "calibration.pdf") as page:
        assert "Too few past cases" in page[0].get_textpage().get_text_bounded()


def test_that_characters_that_the_page_cannot_show_are_said(tmp_path: Path) -> None:
    site, out = site_of(tmp_path / "site", 18, "Example Hospital \u533b\u9662"), tmp_path / "out"
    code, said, _ = run("calibrate", str(site), "--out", str(out), "--now", NOW)
    assert code == FINE
    assert str(out / "calibration.pdf") in said
    assert "[U+533B]" in said.splitlines()[-1]


def test_that_a_page_of_the_same_name_is_kept_and_a_table_of_the_site_never_written_over(tmp_path: Path) -> None:
    site, out = site_of(tmp_path / "site", 18), tmp_path / "out"
    out.mkdir()
    (out / "calibration.pdf").write_bytes(b"somebody's own")
    code, said, _ = run("calibrate", str(site), "--out", str(out), "--now", NOW)
    assert (code, "calibration.pdf was there before; the former one is kept as" in said) == (FINE, True)
    assert b"somebody's own" in [path.read_bytes() for path in (tmp_path / "site.picklist.kept").iterdir()]
    (site / "calibration.pdf").write_bytes(b"mine")
    assert run("calibrate", str(site), "--out", str(site), "--now", NOW)[0] == WRONG_USE
    assert (site / "calibration.pdf").read_bytes() == b"mine"


def test_that_a_place_that_takes_no_page_ends_with_a_sentence(tmp_path: Path) -> None:
    site = site_of(tmp_path / "site", 18)
    (tmp_path / "file").write_text("mine", encoding="utf-8")
    code, _, said = run("calibrate", str(site), "--out", str(tmp_path / "file"), "--now", NOW)
    assert code == WRONG_USE
    assert said.startswith("picklist: ")
    assert (tmp_path / "file").read_text(encoding="utf-8") == "mine"
    assert run("calibrate", str(tmp_path / "none"), "--now", NOW)[0] == WRONG_USE
