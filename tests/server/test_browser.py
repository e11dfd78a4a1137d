"""The main ways of the users through the page, in a real Chromium."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from threading import Event

import pytest
from playwright.sync_api import Browser, expect

from picklist.server import desk
from picklist.server.desk import Desk
from picklist.server.run import start_page
from picklist.tasks.build import Built, Wanted, build_day
from picklist.tasks.cart_reports import carts_told
from tests.patience import PATIENCE
from tests.server.browsing import (
    Opening,
    go_to,
    marked_notes,
    opening,
    press_build,
    send_back_mistyped,
    served,
    wrong_schedule,
)
from tests.server.site import LAST_DAY, ended

pytestmark = pytest.mark.browser


@pytest.fixture
def opened(browser: Browser) -> Iterator[Opening]:
    with opening(browser) as open_page:
        yield open_page


def test_the_evening_shift_builds_opens_a_pick_list_and_marks_a_cart_built(
    fresh: Desk, opened: Opening, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen = Event()  # the work waits until its page was seen, however slow the browser is

    def build_once_seen(wanted: Wanted, *told: Callable[..., None]) -> Built:
        assert seen.wait(PATIENCE)
        return build_day(wanted, *told)

    monkeypatch.setattr(desk, "build_day", build_once_seen)
    page = opened(fresh)
    expect(page.get_by_text("Nothing to fix")).to_be_visible()
    work = press_build(page, fresh)
    expect(page.get_by_role("heading", name="Building the lists")).to_be_visible()
    page.get_by_role("link", name="Input").click()  # the work goes on, and pages answer meanwhile
    expect(page.get_by_role("heading", name="Input")).to_be_visible()
    seen.set()
    page.get_by_role("link", name="Tonight").click()
    ended(work)
    expect(page.get_by_role("heading", name="Carts for Thu 26 Nov 2026")).to_be_visible()

    page.get_by_role("link", name="Papers", exact=True).click()
    with page.expect_popup() as waiting:
        page.get_by_role("link", name="Pick list C-4123, page").click()
    sheet = waiting.value
    expect(sheet.get_by_text("Wrist fracture fixation").first).to_be_visible()
    pdf = page.get_by_role("link", name="Pick list C-4123, PDF").get_attribute("href")
    assert page.evaluate("async link => (await (await fetch(link)).text()).slice(0, 4)", pdf) == "%PDF"

    page.get_by_role("link", name="Carts", exact=True).click()
    page.get_by_role("link", name="Mark built, cart C-4123").click()
    page.get_by_label("Built by").fill("QX")
    page.get_by_role("button", name="Built", exact=True).first.click()
    expect(page.get_by_text("Cart C-4123 is recorded as built.")).to_be_visible()
    row = page.get_by_role("row").filter(has_text="C-4123")
    expect(row.locator(".boxed")).to_contain_text("built")
    expect(row).to_contain_text("QX")
    assert carts_told(fresh.folder, LAST_DAY).built["C-4123"].done


def test_the_coordinator_tries_a_remedy_and_sees_the_board_change(evening: Desk, opened: Opening) -> None:
    page = opened(evening)
    conflict = page.locator("details.conflict").filter(has_text="Case C-4123 needs Wrist plates")
    expect(conflict).to_contain_text("SHORT")
    expect(conflict).to_contain_text("decide by")
    conflict.locator("summary").click()
    expect(conflict).to_contain_text("Proof.")
    conflict.get_by_role("button", name="Try it").first.click()
    expect(page.get_by_text("conflicts before")).to_be_visible()
    counts = [int(one) for one in page.locator(".figures strong").all_inner_texts()]
    assert counts[1] == counts[0] - 1
    expect(page.get_by_role("heading", name="Gone")).to_be_visible()
    board = page.frame_locator("iframe[name=tried-board]")
    wrist = board.locator(".todo li a", has_text="Wrist plates")
    expect(board.locator(".todo li a").first).to_be_visible()
    expect(wrist).to_have_count(0)
    page.get_by_role("link", name="As it is now").click()
    expect(wrist).to_have_count(1)
    wrist.click()
    expect(board.locator(".leaf.shown")).to_contain_text("C-4121")


def test_whoever_drops_a_schedule_with_mistakes_sees_each_cell_before_anything_is_kept(
    evening: Desk, opened: Opening
) -> None:
    page = opened(evening)
    before = (evening.folder / "schedule.xlsx").read_bytes()
    go_to(page, "Input")
    handle = page.evaluate_handle(
        """bytes => { const carried = new DataTransfer();
        carried.items.add(new File([new Uint8Array(bytes)], "schedule (1).xlsx")); return carried; }""",
        list(wrong_schedule(evening.folder)),
    )
    page.dispatch_event("body", "drop", {"dataTransfer": handle})
    expect(page.get_by_role("heading", name="schedule.xlsx", exact=True)).to_be_visible()
    mistyped = page.get_by_role("row").filter(has_text="did you mean GEN-CHOLE")
    expect(mistyped.first).to_contain_text("G8")
    expect(mistyped.first).to_contain_text("did you mean GEN-CHOLE")
    expect(page.get_by_role("row").filter(has_text="D9 (start)").first).to_contain_text("a time of day")
    page.get_by_role("button", name="Do not keep it").click()
    expect(page.get_by_text("nothing changed")).to_be_visible()
    assert (evening.folder / "schedule.xlsx").read_bytes() == before


def test_an_office_that_mistyped_sees_which_cell_and_gets_its_workbook_back_marked(
    fresh: Desk, opened: Opening, tmp_path: Path
) -> None:
    page = opened(fresh)
    page.get_by_role("link", name="Offices").click()
    row = send_back_mistyped(page, tmp_path, value="S01")
    expect(row).to_contain_text("(Open)")
    expect(row).to_contain_text("expected a whole number")
    assert any("whole number" in note for note in marked_notes(page))


def test_the_start_file_opens_the_page_and_only_its_user_can_read_it(evening: Desk, browser: Browser) -> None:
    context = browser.new_context()
    with served(evening) as door, start_page(door) as file:
        assert os.name != "posix" or file.stat().st_mode & 0o077 == 0
        assert os.name != "posix" or file.parent.stat().st_mode & 0o077 == 0
        page = context.new_page()
        page.goto(file.as_uri())
        expect(page.get_by_role("heading", name="Carts for Thu 26 Nov 2026")).to_be_visible()
        assert door.key not in page.url
        context.close()
    assert not file.exists()


def test_pages_work_by_keyboard(evening: Desk, opened: Opening) -> None:
    page = opened(evening)
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="Skip to the page")).to_be_focused()
    first = page.locator("details.conflict").first
    first.locator("summary").focus()
    page.keyboard.press("Enter")
    expect(first).to_have_attribute("open", "")


def test_without_script_a_build_still_comes_to_its_end(evening: Desk, browser: Browser) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    with served(evening) as door:
        page.goto(door.start_link)
        page.wait_for_url(re.compile(r"/$"))
        page.get_by_role("link", name="Carts", exact=True).click()
        page.get_by_role("link", name="Mark built, cart C-4123").click()
        page.get_by_label("Built by").fill("QX")
        page.get_by_role("button", name="Built", exact=True).first.click()
        expect(page.get_by_text("Cart C-4123 is recorded as built.")).to_be_visible()
        context.close()


def test_another_browser_of_this_computer_gets_nothing(evening: Desk, opened: Opening, browser: Browser) -> None:
    page = opened(evening)
    stranger = browser.new_context()
    told = stranger.new_page().goto(page.url)
    assert told is not None
    assert told.status == 403
    assert "Carts for" not in told.text()
    stranger.close()
