"""Any file dropped on the page: it says what it is and what it would do, and then does it; the day after follows."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from html import unescape
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
from picklist.tasks.new_site import make_blank
from picklist.tasks.offices import send_cards
from picklist.tasks.take_form import FileKind, recognise
from tests.messages.words import siu
from tests.server.browsing import Opening, faults, go_to, opening
from tests.server.office_book import filled, first_card
from tests.server.site import DOOR, HOSPITAL, LAST_DAY, NOW, at, client_of, work_of
from tests.upkeep.office import save_as_csv

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
    """A file of scans of one cart; all that it would record is looked at, and nothing is recorded until it is said."""
    client = client_of(evening)
    plan = evening.plan()
    assert plan is not None
    cart = next(one for one in plan.carts if one.case.number == CASE)
    set_id, item = cart.trays[0].set_id, cart.sundries[0].need.thing
    scans = f"{CASE}.R1\n{set_id}\nMISSING {item} 1\nNOTE wheel squeaks\nno-such-thing\nBY mk\nDONE\n".encode()
    answer = client.post(at("input"), data={"token": DOOR.token}, files={"file": ("scans.txt", scans)})
    looked = work_of(evening, answer.headers["location"])
    page = unescape(client.get(at(looked.next)).text)
    for said in ("built by mk", f"set {set_id} for tray", f"1 of {item} missing", "remark: wheel squeaks"):
        assert f"{CASE}: {said}" in page
    assert f"Cart {CASE} is built by mk" in page  # the answer to each scan
    assert "not recorded" in page  # nor is what nobody knows
    assert CASE not in carts_told(evening.folder, LAST_DAY).built
    answer = client.post(at(looked.next), data={"token": DOOR.token})
    done = work_of(evening, answer.headers["location"])
    client.get(at(done.next))
    fact = carts_told(evening.folder, LAST_DAY).built[CASE]
    assert (fact.done, [one.set_id for one in fact.sets], fact.remark) == (True, [set_id], "wheel squeaks")
    again = work_of(
        evening,
        client.post(at("input"), data={"token": DOOR.token}, files={"file": ("b.txt", scans)}).headers["location"],
    )
    assert "The same contents were recorded before" in client.get(at(again.next)).text
    answer = client.post(at("input"), data={"token": DOOR.token}, files={"file": ("a.hl7", siu("S12").encode())})
    looked = work_of(evening, answer.headers["location"])
    assert "1 message about cases" in client.get(at(looked.next)).text


def test_every_form_that_the_program_writes_is_known_shown_and_taken_or_said_to_be_none(
    evening: Desk, tmp_path: Path
) -> None:
    """Forms, workbooks and tables as they leave the program, filled in where they are to be, dropped once each."""
    client = client_of(evening)
    blank, office = tmp_path / "blank", tmp_path / "office.xlsx"
    send_cards(evening.folder, "S01", office, NOW)
    changed = filled(office.read_bytes(), open=3)
    wrong = work_of(evening, post(evening, "wrong.xlsx", filled(office.read_bytes(), open="two or so")))
    marked = client.get(at(f"{wrong.next}/workbook")).content
    make_blank(blank, NOW)
    scans = f"{CASE}.R1\nDONE\n".encode()
    taken = {
        "carts.xlsx": (fill(evening.out / "carts.xlsx", "Carts", CASE, done="yes", by="mk"), "built by mk"),
        "used.xlsx": (fill(evening.out / "used.xlsx", "Usage", CASE, used=1), f"{CASE}, "),
        "office.xlsx": (changed, "Waiting for approval"),
        "office (1).csv": (one_sheet_as_csv(changed, tmp_path), "Waiting for approval"),
        "wrong, to fix.xlsx": (marked, "a whole number"),
        "scans.txt": (scans, f"Cart {CASE} is built"),
        "a.hl7": (siu("S12").encode(), "1 message about cases"),
        **{path.name: (path.read_bytes(), "Keep it") for path in blank.iterdir()},
        **{name: ((evening.folder / name).read_bytes(), "identical") for name in ("schedule.xlsx", "Lots.csv")},
    }
    for name, (content, says) in taken.items():
        work = work_of(evening, post(evening, name, content))
        assert not work.refused, (name, work.refused)
        assert says in unescape(client.get(at(work.next)).text), name
    for path in (path for path in evening.out.rglob("*") if path.is_file() and not path.name.startswith(".")):
        if path.name in taken:
            continue
        answer = client.post(at("input"), data={"token": DOOR.token}, files={"file": (path.name, path.read_bytes())})
        assert answer.status_code == 422, path.name
        assert re.search("it is printed, and holds nothing|there is nothing in it to take in", answer.text), path.name


def post(desk: Desk, name: str, content: bytes) -> str:
    """Drop a file; where its answer leads."""
    answer = client_of(desk).post(at("input"), data={"token": DOOR.token}, files={"file": (name, content)})
    assert answer.status_code == 303, (name, answer.text)
    return str(answer.headers["location"])


def one_sheet_as_csv(book: bytes, place: Path) -> bytes:
    """The first card of an office's workbook as a spreadsheet program saves it: one sheet, its hidden columns too."""
    (place / "filled.xlsx").write_bytes(book)
    sheet = first_card(openpyxl.load_workbook(place / "filled.xlsx"))[0].title
    return save_as_csv(place / "filled.xlsx", place / "filled.csv", sheet).read_bytes()


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
