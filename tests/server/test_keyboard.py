"""Every form of the page by keyboard alone, and its later states past the accessibility checker."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import time
from pathlib import Path

import openpyxl
import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from picklist.model.known import conflict_key
from picklist.server.desk import Desk
from picklist.tasks.cart_reports import carts_told, put_backs_told
from picklist.tasks.offices import send_cards
from tests.server.browsing import CONTRAST, Opening, faults, go_to, opening, wrong_schedule
from tests.server.office_book import filled
from tests.server.site import LAST_DAY, NOW, build
from tests.tasks.small_folder import tell_by_scans

pytestmark = pytest.mark.browser
SHORT = "C-4123"
MOST_TABS = 250
NEAR = 10  # so many places before the wanted one the walk starts; the last test walks a whole page
LIFT = """(wanted, near) => {
    const all = [...document.querySelectorAll("a[href], button, input, select, textarea, summary")]
        .filter(one => !one.disabled && one.type !== "hidden" && one.checkVisibility());
    const goal = all.indexOf(wanted), here = all.indexOf(document.activeElement);
    if (goal > here + near) all[goal - near].focus();
}"""


@pytest.fixture
def opened(browser: Browser) -> Iterator[Opening]:
    with opening(browser) as open_page:
        yield open_page


def tab_to(page: Page, wanted: Locator, near: int = NEAR) -> None:
    """Press the tab key until the wanted place has the focus and shows it."""
    handle = wanted.element_handle()
    wanted.evaluate(LIFT, near)
    for _ in range(MOST_TABS):
        page.keyboard.press("Tab")
        if page.evaluate("one => document.activeElement === one", handle):
            assert page.evaluate("one => getComputedStyle(one).outlineStyle", handle) != "none"
            return
    raise AssertionError(f"the tab key never comes to {wanted}")


def press(page: Page, wanted: Locator, key: str = "Enter") -> None:
    tab_to(page, wanted)
    page.keyboard.press(key)


def write(page: Page, wanted: Locator, text: str) -> None:
    tab_to(page, wanted)
    page.keyboard.press("Control+A")
    page.keyboard.type(text)


def button(page: Page, name: str) -> Locator:
    return page.get_by_role("button", name=name, exact=True)


def test_a_cart_is_told_by_keyboard_and_the_enter_key_of_a_scanner_does_not_send_the_form(
    evening: Desk, opened: Opening
) -> None:
    page = opened(evening)
    plan = evening.plan()
    assert plan is not None
    cart = next(one for one in plan.carts if one.case.number == SHORT)
    item = cart.sundries[0].need
    go_to(page, "Carts")
    write(page, page.get_by_role("searchbox", name="Find"), SHORT)
    page.keyboard.press("Enter")
    expect(page.get_by_role("row")).to_have_count(2)
    press(page, page.get_by_role("link", name=f"Mark built, cart {SHORT}"))
    expect(page.get_by_role("heading", name=f"Cart {SHORT}")).to_be_visible()
    write(page, page.get_by_label("Built by"), "QX")
    page.keyboard.press("Enter")
    expect(page.get_by_label("Remark")).to_be_focused()
    write(page, page.get_by_label(f"Missing of {item.name}", exact=True), "1")
    write(page, page.get_by_label(f"Stand-in for {item.name}", exact=True), "no-such-item")
    press(page, button(page, "Built").last)
    expect(page.get_by_role("heading", name="Not recorded")).to_be_visible()
    assert faults(page) == []
    press(page, page.get_by_role("link", name="Back to your form"))
    expect(page.get_by_label("Built by")).to_have_value("QX")
    tab_to(page, page.get_by_label(f"Stand-in for {item.name}", exact=True))
    page.keyboard.press("Control+A")
    page.keyboard.press("Delete")
    press(page, button(page, "Built").last)
    expect(page.get_by_text("is recorded as built")).to_be_visible()
    [missing] = carts_told(evening.folder, LAST_DAY).built[SHORT].missing
    assert (missing.thing, missing.quantity) == (item.thing, 1)


def test_a_change_is_tried_and_a_decision_taken_down_by_keyboard(evening: Desk, opened: Opening) -> None:
    page = opened(evening)
    plan = evening.plan()
    assert plan is not None
    go_to(page, "Try a change")
    row = page.get_by_role("group", name="Move a case")
    write(page, row.get_by_label("Case"), SHORT)
    write(page, row.get_by_label("to start at"), "15:30")
    page.keyboard.press("Enter")
    expect(page.get_by_text("conflicts before")).to_be_visible()
    assert faults(page) == []
    press(page, page.get_by_role("link", name="As it is now"))
    expect(page.get_by_role("link", name="As it is now")).to_have_attribute("aria-current", "true")

    go_to(page, "Decisions")
    about = next(conflict_key(c) for c in plan.conflicts if len(c.remedies) > 1)
    press(page, page.locator(f'a[href$="{page.evaluate("about => encodeURIComponent(about)", about)}"]'))
    expect(page.get_by_role("group", name="What was decided?")).to_be_visible()
    assert faults(page) == []
    tab_to(page, page.get_by_role("radio").first)
    page.keyboard.press("ArrowDown")
    expect(page.get_by_role("radio").nth(1)).to_be_checked()
    write(page, page.get_by_label("What else was decided"), "the rooms change places")
    expect(page.get_by_role("radio").last).to_be_checked()
    write(page, page.get_by_label("Informed"), "Dr. Quill")
    write(page, page.get_by_label("By (initials)"), "co")
    page.keyboard.press("Enter")
    expect(page.get_by_text("1 decided")).to_be_visible()
    assert carts_told(evening.folder, LAST_DAY).decided[about].decided == "the rooms change places"
    assert faults(page) == []
    go_to(page, "Tonight")
    press(page, page.locator("details.conflict", has_text="decided").first.locator("summary"))
    assert faults(page) == []


def without_case(desk: Desk, number: str) -> None:
    """A built cart's case leaves the schedule, and another gets a new number and a late hour; built again."""
    assert tell_by_scans(desk.folder, [f"CART {number}", "BY mk", "DONE"], NOW, LAST_DAY).kept
    book = openpyxl.load_workbook(desk.folder / "schedule.xlsx")
    sheet = book["Schedule"]
    heads = {head.value: number for number, head in enumerate(sheet[1], start=1)}
    for row in range(sheet.max_row, 1, -1):
        if sheet.cell(row, heads["case"]).value == number:
            sheet.delete_rows(row)
        elif sheet.cell(row, heads["case"]).value == "C-4122":
            sheet.cell(row, heads["case"]).value = "C-4199"
            sheet.cell(row, heads["start"]).value = time(19, 15)
    book.save(desk.folder / "schedule.xlsx")
    build(desk)


def test_what_was_put_back_and_whose_cart_it_is_are_told_by_keyboard(evening: Desk, opened: Opening) -> None:
    plan = evening.plan()
    assert plan is not None
    without_case(evening, plan.carts[0].case.number)
    page = opened(evening)
    expect(page.get_by_role("group", name=re.compile("Did C-4199"))).to_be_visible()
    assert faults(page) == []
    page.goto(page.url + "put-backs")
    assert faults(page) == []
    press(page, page.get_by_role("checkbox").nth(1), "Space")
    write(page, page.get_by_label("Put back by"), "QX")
    page.keyboard.press("Enter")
    expect(page.get_by_text("1 line recorded as put back")).to_be_visible()
    assert faults(page) == []
    assert [one.done_by for one in put_backs_told(evening.folder, LAST_DAY) if one.done_at] == ["QX"]
    press(page, page.get_by_role("button", name=re.compile("Not put back:")))
    expect(page.get_by_text("It is still to be put back")).to_be_visible()
    assert not [one for one in put_backs_told(evening.folder, LAST_DAY) if one.done_at]
    go_to(page, "Tonight")
    tab_to(page, page.get_by_role("radio").first)
    page.keyboard.press("Space")
    press(page, button(page, "Answer and build again"))
    expect(page.get_by_role("group", name=re.compile("Did C-4199"))).to_have_count(0)
    expect(page.get_by_role("heading", name="Carts for")).to_be_visible()


def test_a_file_is_looked_at_and_an_office_approved_by_keyboard(fresh: Desk, opened: Opening, tmp_path: Path) -> None:
    book, schedule = tmp_path / "office.xlsx", tmp_path / "schedule.xlsx"
    send_cards(fresh.folder, "S01", book, NOW)
    book.write_bytes(filled(book.read_bytes(), open=3))
    schedule.write_bytes(wrong_schedule(fresh.folder))
    page = opened(fresh)
    go_to(page, "Input")
    page.get_by_label("File").set_input_files(schedule)  # the dialog is the system's own
    press(page, button(page, "Check it"))
    expect(page.get_by_role("heading", name="schedule.xlsx", exact=True)).to_be_visible()
    press(page, page.locator("summary", has_text="Replace a different file"))
    assert faults(page) == []
    press(page, button(page, "Do not keep it"))
    expect(page.get_by_text("nothing changed")).to_be_visible()

    go_to(page, "Offices")
    page.get_by_label("File").set_input_files(book)
    press(page, button(page, "Compare"))
    expect(page.get_by_role("heading", name="Waiting for approval")).to_be_visible()
    assert faults(page) == []
    press(page, page.get_by_role("link", name="To the offices"))
    expect(button(page, "Approve the ticked changes")).to_be_visible()
    assert faults(page) == []
    press(page, button(page, "Show the effect"))
    expect(page.get_by_role("heading", name=re.compile("would do"))).to_be_visible()
    assert faults(page) == []
    press(page, page.get_by_role("link", name="Back to the offices"))
    write(page, page.get_by_label("Approved by"), "Dr. Quill")
    write(page, page.get_by_label("Reason"), "asked for")
    press(page, button(page, "Approve the ticked changes"))
    expect(page.get_by_text("1 change is in the cards")).to_be_visible()
    assert faults(page) == []


def test_what_was_not_applied_says_why_and_is_accessible(fresh: Desk, opened: Opening, tmp_path: Path) -> None:
    """The cards changed between the office's return and its approval."""
    book = tmp_path / "office.xlsx"
    send_cards(fresh.folder, "S01", book, NOW)
    book.write_bytes(filled(book.read_bytes(), open=3))
    page = opened(fresh)
    go_to(page, "Offices")
    page.get_by_label("File").set_input_files(book)
    button(page, "Compare").click()
    page.get_by_role("link", name="To the offices").click()
    expect(button(page, "Approve the ticked changes")).to_be_visible()
    page.get_by_label("Approved by").fill("Dr. Quill")  # what is typed stays when the page sees that the cards change
    page.get_by_label("Reason").fill("asked for")
    cards = openpyxl.load_workbook(fresh.folder / "cards.xlsx")
    sheet = cards["Cards"]
    for row in range(sheet.max_row, 1, -1):
        if sheet.cell(row, 1).value == "GEN-CHOLE":
            sheet.delete_rows(row)
    cards.save(fresh.folder / "cards.xlsx")
    button(page, "Approve the ticked changes").click()
    expect(page.get_by_role("heading", name=re.compile("Not applied|Not done|Applied in part"))).to_be_visible()
    assert faults(page) == []


def test_a_form_left_empty_is_refused_on_an_accessible_page(evening: Desk, opened: Opening) -> None:
    page = opened(evening)
    go_to(page, "Try a change")
    tab_to(page, button(page, "Try it"), near=MOST_TABS)
    page.keyboard.press("Enter")
    expect(page.get_by_role("alert")).to_contain_text("fill in one of the lines")
    assert faults(page) == []
    page.get_by_role("alert").evaluate("said => { said.style = 'color: #ddd; background: #fff'; }")
    for rules in ((), ("target-size", CONTRAST)):  # it would be seen
        assert any(fault.startswith(CONTRAST) for fault in faults(page, rules))
