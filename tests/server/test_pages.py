"""The pages say what the command line says, and work without any script."""

from __future__ import annotations

import errno
import re
import tempfile
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from threading import Event
from urllib.parse import quote

import openpyxl
import pytest
from starlette.testclient import TestClient

from picklist.model.conflicts import ConflictKind
from picklist.problems import Problem, Severity, Where
from picklist.server.desk import Desk
from picklist.server.paper_pages import DAY_PAPERS
from picklist.server.work import Lane, LongTask, Workshop
from picklist.store.state import state_path
from picklist.tasks.errors import WrongUse
from picklist.tasks.papers import list_papers
from picklist.wording.say_conflicts import statement
from tests.patience import PATIENCE
from tests.server.site import DOOR, LAST_DAY, at, client_of, ended, work_of


def test_the_first_page_builds_the_evening_and_then_shows_it(fresh: Desk) -> None:
    client = client_of(fresh)
    assert "No lists are built yet" in client.get(at()).text
    answer = client.post(at("build"), data={"token": DOOR.token, "day": "2026-11-26"})
    work = work_of(fresh, answer.headers["location"])
    assert not work.refused
    page = client.get(at()).text
    plan = fresh.plan()
    assert plan is not None
    assert plan.day == LAST_DAY
    assert f"{len(plan.carts)} carts to build" in page
    conflicts = list(plan.conflicts)
    assert {one.kind for one in conflicts} >= {ConflictKind.SHORT, ConflictKind.RUSH}
    for one in conflicts:
        assert statement(one, plan.settings.site_clock).replace("'", "&#39;") in page


def test_a_day_without_cases_is_refused_in_a_sentence(fresh: Desk) -> None:
    client = client_of(fresh)
    answer = client.post(at("build"), data={"token": DOOR.token, "day": "2031-01-01"})
    work = work_of(fresh, answer.headers["location"])
    assert "no case is planned on 2031-01-01" in client.get(at(f"work/{work.id}")).text
    answer = client.post(at("build"), data={"token": DOOR.token, "day": "tomorrow"})
    assert answer.status_code == 422


def test_every_paper_is_listed_and_opens(evening: Desk) -> None:
    client = client_of(evening)
    page = client.get(at("papers")).text
    papers = list_papers(evening.out)
    assert {"evening.pdf", "pick-lists.pdf", "conflicts.pdf", "plan.xlsx", "carts.xlsx"} <= set(papers)
    assert set(DAY_PAPERS) & set(papers)
    signs = {".pdf": b"%PDF", ".htm": b"<!do", ".xls": b"PK\x03\x04"}
    for paper in papers:
        assert f"papers/{quote(paper)}" in page, paper
        answer = client.get(at(f"papers/{paper}"))
        assert answer.status_code == 200, paper
        assert answer.content.lstrip()[:4].lower() == signs["." + paper.rsplit(".", 1)[1][:3]].lower()
        assert answer.headers["cache-control"] == "no-store"


def test_pick_lists_are_found_by_words_of_their_rows(evening: Desk) -> None:
    client, plan = client_of(evening), evening.plan()
    assert plan is not None
    one = plan.carts[0]
    page = client.get(at("papers"), params={"find": f"{one.case.room} {one.case.number.lower()}"}).text
    assert page.count('aria-label="Pick list') == 2  # as PDF and as a page
    assert f"Pick list {one.case.number}, PDF" in page
    assert "No pick list matches" in client.get(at("papers"), params={"find": "OR 77"}).text


def test_our_own_documents_may_fetch_nothing(evening: Desk) -> None:
    client = client_of(evening)
    html = next(paper for paper in list_papers(evening.out) if paper.endswith(".html"))
    policy = client.get(at(f"papers/{html}")).headers["content-security-policy"]
    assert policy.startswith("sandbox ")
    assert "allow-same-origin" not in policy
    assert "default-src 'none'" in policy
    assert "connect-src" not in policy


def test_text_of_the_sheets_is_never_markup(evening: Desk) -> None:
    client = client_of(evening)
    page = client.get(at("why"), params={"case": "<script>alert(1)</script>", "thing": "x"})
    assert page.status_code == 422
    assert "<script>alert" not in page.text
    assert "&lt;script&gt;" in page.text


def test_why_answers_as_the_command_does(evening: Desk) -> None:
    page = client_of(evening).get(at("why"), params={"case": "C-4123", "thing": "T-HAND"}).text
    assert "cards.xlsx" in page


def test_pages_have_no_inline_script_or_style(evening: Desk) -> None:
    client = client_of(evening)
    evening.check()
    for page in ("", "input", "papers", "board", "carts", "why", "no-such-page"):
        text = client.get(at(page)).text
        assert not re.search(r"<script(?![^>]*\bsrc=)|<style|\sstyle=|\son\w+=", text), page


def test_one_build_runs_at_a_time_and_pages_answer_meanwhile() -> None:
    workshop, go = Workshop(), Event()
    first = workshop.start("Building", Lane.PLAN, lambda _tell: go.wait(PATIENCE), "", once=True)
    again = workshop.start("Building", Lane.PLAN, lambda _tell: None, "", once=True)
    told = workshop.start("Building", Lane.CHECK, lambda _tell: 1, "")
    other = workshop.start("Trying", Lane.PLAN, lambda tell: tell("done"), "")
    check = workshop.start("Checking", Lane.CHECK, lambda _tell: 7, "")
    assert again is first
    assert told is not first  # what two people tell is never taken for the same
    assert check.done.wait(PATIENCE)
    assert check.result == 7
    assert other.running
    go.set()
    assert other.done.wait(PATIENCE)


def test_what_was_read_before_a_file_changed_is_not_shown_for_what_is_there_now(fresh: Desk) -> None:
    """The cards are saved while the page reads them; it reads them once more."""
    saved = Event()

    def read_slowly() -> str:
        assert saved.wait(PATIENCE)
        return "half the cards"

    first = fresh.known("Reading", "before", read_slowly)
    assert isinstance(first, LongTask)
    assert fresh.known("Reading", "after", lambda: "the cards") is first
    saved.set()
    ended(first)
    again = fresh.known("Reading", "after", lambda: "the cards")
    assert (ended(again).result if isinstance(again, LongTask) else again) == "the cards"


def test_work_that_fails_says_so_and_frees_the_lane(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))

    def fails(_tell: object) -> None:
        raise ZeroDivisionError

    def refuses(_tell: object) -> None:
        raise WrongUse("the sheet is not there")

    workshop = Workshop()
    fault, refusal = workshop.start("A", Lane.PLAN, fails, ""), workshop.start("B", Lane.PLAN, refuses, "")
    assert fault.done.wait(PATIENCE)
    assert refusal.done.wait(PATIENCE)
    assert "a fault of picklist" in fault.refused
    (report,) = tmp_path.iterdir()
    assert str(report) in fault.refused
    assert "ZeroDivisionError" in report.read_text()
    assert refusal.refused == "the sheet is not there"


def test_a_folder_that_is_gone_is_said_and_not_looked_for_without_end(fresh: Desk) -> None:
    fresh.folder.rename(fresh.folder.with_name("moved"))
    client = client_of(fresh)
    client.get(at("input"))
    work = fresh.workshop.find("1")
    assert work is not None
    assert work.done.wait(PATIENCE)
    page = client.get(at("input")).text
    assert "there is no folder" in page
    assert "data-work" not in page
    assert fresh.workshop.find("2") is None


def test_a_folder_that_cannot_be_reached_leaves_the_papers_there(
    evening: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A share whose network is down: it is there, and its files cannot be listed."""
    listed = Path.iterdir

    def unreachable(folder: Path) -> Iterator[Path]:
        if folder == evening.folder:
            raise OSError(errno.EIO, "Input/output error")
        return listed(folder)

    monkeypatch.setattr(Path, "iterdir", unreachable)
    client = client_of(evening)
    assert client.get(at("version")).status_code == 200
    assert "Pick list C-4123, PDF" in client.get(at("papers")).text


def test_the_page_for_the_morning_is_made_from_what_was_told(evening: Desk) -> None:
    client = client_of(evening)
    client.follow_redirects = True
    work = work_of(evening, morning_begun(client))
    answer = client.get(at(work.next))
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF")


def morning_begun(client: TestClient) -> str:
    answer = client.post(at("papers/morning"), data={"token": DOOR.token}, follow_redirects=False)
    return str(answer.headers["location"])


def test_what_is_to_be_said_of_the_morning_page_stands_on_the_page_before_it(evening: Desk) -> None:
    """The command line said that a case is without a list; on the page nobody was told."""
    book = openpyxl.load_workbook(evening.folder / "schedule.xlsx")
    sheet = book["Schedule"]
    first = next(row for row in sheet.iter_rows(min_row=2) if row[0].value == "C-4123")
    sheet.append(["C-4999", *(cell.value for cell in first[1:])])
    book.save(evening.folder / "schedule.xlsx")
    client = client_of(evening)
    work = work_of(evening, morning_begun(client))
    text = client.get(at(work.next)).text
    assert "without a list" in text
    assert client.get(at(f"{work.next}/print")).content.startswith(b"%PDF")


def test_before_the_first_build_there_is_no_page_for_the_morning(fresh: Desk) -> None:
    state_path(fresh.folder).unlink(missing_ok=True)
    client = client_of(fresh)
    work = work_of(fresh, morning_begun(client))
    assert "no lists were built" in client.get(at(f"work/{work.id}")).text


def test_a_list_on_hold_is_found_by_the_words_that_stand_beside_it(
    evening: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan = evening.plan()
    assert plan is not None
    stop = Problem(kind="k", severity=Severity.STOPS_CASE, where=Where(file="cards.xlsx"), message="m")
    held = replace(plan, carts=(replace(plan.carts[0], stopped=(stop,)), *plan.carts[1:]))
    monkeypatch.setattr(Desk, "plan", lambda _: held)
    page = client_of(evening).get(at("papers"), params={"find": "on hold"}).text
    assert page.count('class="reversed">ON HOLD') == 1
    assert "No pick list matches" not in page
