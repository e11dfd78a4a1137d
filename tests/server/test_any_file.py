"""Any file dropped on the page: it says what it is and what it would do, and then does it; the day after follows."""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from playwright.sync_api import Browser, Page, expect

from picklist.evening.usage import usage_history
from picklist.server.desk import Desk
from picklist.store.state import open_state, state_path
from picklist.tables.files import kept_folder
from picklist.tasks.cart_reports import carts_told
from picklist.tasks.errors import WrongUse
from picklist.tasks.take_form import FileKind, recognise
from tests.messages.words import siu
from tests.server.browsing import Opening, faults, go_to, opening
from tests.server.site import DOOR, HOSPITAL, LAST_DAY, at, client_of, work_of

CASE = "C-4123"


@pytest.fixture
def opened(browser: Browser) -> Iterator[Opening]:
    with opening(browser) as open_page:
        yield open_page


def fill(form: Path, sheet: str, case: str, **values: object) -> bytes:
    """The form with the first row of a case filled in."""
    book: Any = openpyxl.load_workbook(form)
    head = {cell.value: cell.column for cell in book[sheet][3]}
    row = next(r for r in range(4, 999) if book[sheet].cell(r, head["case"]).value == case)
    for column, value in values.items():
        book[sheet].cell(row, head[column]).value = value
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


@pytest.mark.parametrize(
    ("name", "content", "kind"),
    [
        ("a.hl7", siu("S12"), FileKind.MESSAGES),
        ("a.txt", "\x0b" + siu("S12"), FileKind.MESSAGES),
        ("a.json", '{"resourceType": "Appointment"}', FileKind.MESSAGES),
        ("a.txt", "# shelf 2\nC-4123.R1\nHAND-01\n", FileKind.SCANS),
        ("a.csv", "case,kind,thing,used\nC-4123,item,110104,1\n", FileKind.USED),
        ("a.csv", "item;lot;quantity\n110104;L1;4\n", FileKind.TABLES),
    ],
)
def test_a_text_is_known_by_what_is_in_it(tmp_path: Path, name: str, content: str, kind: FileKind) -> None:
    (tmp_path / name).write_text(content, encoding="utf-8")
    assert recognise(tmp_path / name) is kind


def test_a_workbook_is_known_by_its_sheets(evening: Desk) -> None:
    assert recognise(evening.out / "carts.xlsx") is FileKind.CARTS
    assert recognise(evening.out / "used.xlsx") is FileKind.USED
    assert recognise(HOSPITAL / "schedule.xlsx") is FileKind.TABLES


def test_what_is_nothing_known_is_refused_with_what_is_expected(tmp_path: Path, fresh: Desk) -> None:
    (tmp_path / "a.txt").write_text("dear all,\n", encoding="utf-8")
    with pytest.raises(WrongUse, match="expected a workbook or CSV file of the site, a form that picklist printed"):
        recognise(tmp_path / "a.txt")
    answer = client_of(fresh).post(
        at("input"), data={"token": DOOR.token}, files={"file": ("conflicts.pdf", b"%PDF-1.7")}
    )
    assert "it is printed, and holds nothing to take in" in answer.text


def test_scans_and_messages_are_shown_before_they_are_recorded(evening: Desk) -> None:
    """A file of scans of one cart; it is looked at, and nothing is recorded until it is said."""
    client = client_of(evening)
    scans = f"{CASE}.R1\nBY mk\nDONE\n".encode()
    answer = client.post(at("input"), data={"token": DOOR.token}, files={"file": ("scans.txt", scans)})
    looked = work_of(evening, answer.headers["location"])
    assert f"3 scans on 1 cart: {CASE}" in client.get(at(looked.next)).text
    assert CASE not in carts_told(evening.folder, LAST_DAY).built
    answer = client.post(at(looked.next), data={"token": DOOR.token})
    done = work_of(evening, answer.headers["location"])
    client.get(at(done.next))
    assert carts_told(evening.folder, LAST_DAY).built[CASE].done
    answer = client.post(at("input"), data={"token": DOOR.token}, files={"file": ("a.hl7", siu("S12").encode())})
    looked = work_of(evening, answer.headers["location"])
    assert "1 message about cases" in client.get(at(looked.next)).text


def drop(page: Page, name: str, content: bytes) -> None:
    """Drop a file on the page, as from the file manager."""
    handle = page.evaluate_handle(
        """([name, bytes]) => { const carried = new DataTransfer();
        carried.items.add(new File([new Uint8Array(bytes)], name)); return carried; }""",
        [name, list(content)],
    )
    page.dispatch_event("body", "drop", {"dataTransfer": handle})


@pytest.mark.browser
def test_the_forms_of_an_evening_are_dropped_and_stock_follows_after_it_was_looked_at(
    evening: Desk, opened: Opening
) -> None:
    """The crew's form says that a cart is built, the room's that a thing was used: then Lots change, once, as shown."""
    plan = evening.plan()
    assert plan is not None
    cart = next(one for one in plan.carts if one.case.number == CASE)
    page = opened(evening)
    go_to(page, "Carts")
    drop(page, "carts (1).xlsx", fill(evening.out / "carts.xlsx", "Carts", CASE, done="yes", by="mk"))
    expect(page.get_by_text("the crew's form of carts")).to_be_visible()
    expect(page.get_by_text(f"{CASE}: built by mk")).to_be_visible()
    assert faults(page) == []
    assert CASE not in carts_told(evening.folder, LAST_DAY).built
    page.get_by_role("button", name="Record it").click()
    expect(page.get_by_role("link", name=f"Change, cart {CASE}")).to_be_visible()
    assert carts_told(evening.folder, LAST_DAY).built[CASE].by == "mk"

    go_to(page, "Day after")
    drop(page, "used.xlsx", fill(evening.out / "used.xlsx", "Usage", CASE, used=1))
    expect(page.get_by_text("the form of what was used, Thu 26 Nov 2026")).to_be_visible()
    page.get_by_role("button", name="Record it").click()
    expect(page.get_by_role("heading", name="Update stock and sets")).to_be_visible()
    assert faults(page) == []
    with open_state(state_path(evening.folder)) as state:
        assert [line.case for line in usage_history(state)] == [CASE]

    lots = (evening.folder / "Lots.csv").read_bytes()
    page.get_by_role("button", name="Show the changes").click()
    expect(page.get_by_text("Nothing is written yet.")).to_be_visible()
    assert faults(page) == []
    item = next(pick for line in cart.sundries for pick in line.picks if pick.lot)
    expect(page.get_by_role("row").filter(has_text=f"{item.item} {item.lot}").first).to_be_visible()
    assert (evening.folder / "Lots.csv").read_bytes() == lots
    page.get_by_role("button", name="Write").click()
    expect(page.get_by_text("The former file is kept")).to_be_visible()
    assert faults(page) == []
    assert (evening.folder / "Lots.csv").read_bytes() != lots
    assert any(path.read_bytes() == lots for path in kept_folder(evening.folder).iterdir())
    page.get_by_role("link", name="Back").click()
    page.get_by_role("button", name="Show the changes").click()
    expect(page.get_by_text("Nothing changes.")).to_be_visible()


def test_changes_that_are_not_those_looked_at_are_not_written(evening: Desk) -> None:
    client = client_of(evening)
    answer = client.post(
        at("after/write"), data={"token": DOOR.token, "day": LAST_DAY.isoformat(), "seen": "another mark"}
    )
    work = work_of(evening, answer.headers["location"])
    assert "nothing was written. Look again" in work.refused
