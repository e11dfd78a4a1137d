"""Every screen of the page, large, small and on a tablet: nothing for axe, and nothing wider than the screen."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import openpyxl
import pytest
from playwright.sync_api import Browser, Page, expect

from picklist.server.desk import Desk
from tests.inputs.exports import SEMICOLONS
from tests.server.browsing import CONTRAST, Opening, faults, go_to, opening, press_build
from tests.server.site import NOW, ended
from tests.tasks.test_learning_exports import SAID, site_and_file

pytestmark = pytest.mark.browser
SCREENS = ((1280, 800), (800, 600), (768, 1024), (320, 640))  # the last is a large one, four times as near
WAYS = (
    *("", "input", "tables", "papers", "board", "try", "decisions", "carts", "scan", "put-backs", "after", "offices"),
    *("carts/case?case=C-4123", "why?case=C-4123&thing=T-HAND"),
)
LINES = """cell => { const range = document.createRange(); range.selectNodeContents(cell);
    return new Set([...range.getClientRects()].map(one => Math.round(one.top))).size }"""
LAID_OUT = ("target-size", "scrollable-region-focusable")  # what the size of the screen can break


@pytest.fixture
def opened(browser: Browser) -> Iterator[Opening]:
    with opening(browser) as open_page:
        yield open_page


def wrong_on(page: Page) -> list[str]:
    """What is wrong with the page as it stands, on each of the screens; on the tablet in the dark colours.

    The first screen is checked by every rule, the others by those that their size and colours can break.
    """
    found = list[str]()
    for width, height in SCREENS:
        dark, only = height > width, LAID_OUT if (width, height) != SCREENS[0] else ()
        page.emulate_media(color_scheme="dark" if dark else "light")
        page.set_viewport_size({"width": width, "height": height})
        wide = page.evaluate("document.documentElement.scrollWidth")
        found += [
            f"{width}: {fault}" for fault in faults(page, (*only, CONTRAST) if dark else only, each_text=not dark)
        ]
        found += [f"{width}: the page is {wide} wide"] if wide > width else []
    return found


def test_every_screen_fits_and_has_nothing_that_shuts_somebody_out(evening: Desk, opened: Opening) -> None:
    page = opened(evening)
    home, wrong = page.url, dict[str, list[str]]()
    for way in WAYS:
        page.goto(home + way)
        for closed in page.locator("details.conflict summary").all()[:2]:
            closed.click()
        wrong[way] = wrong_on(page)
    assert {way: found for way, found in wrong.items() if found} == {}


def test_on_a_tablet_no_number_of_a_case_and_no_state_of_a_cart_is_broken(evening: Desk, opened: Opening) -> None:
    page = opened(evening)
    page.set_viewport_size({"width": 768, "height": 1024})
    go_to(page, "Decisions")
    numbers = page.locator(".decisions td:nth-child(3) strong")
    assert numbers.first.inner_text() == "C-4123 in OR 5"
    assert [numbers.nth(n).evaluate(LINES) for n in range(numbers.count())] == [1] * numbers.count()
    go_to(page, "Carts")
    page.get_by_role("link", name="Mark built, cart C-4123").click()
    page.get_by_label("Built by").fill("QX")
    page.get_by_role("button", name="Only started").first.click()
    state = page.get_by_role("row").filter(has_text="C-4123").locator(".boxed")
    expect(state).to_have_text("started")
    assert state.evaluate(LINES) == 1
    waits = "built, waits for HIP-01 (Thu 26 Nov 14:00), HIPRM-01 (Thu 26 Nov 14:00), POWL-01 (Thu 26 Nov 12:35)"
    state.evaluate("(one, text) => { one.textContent = text }", waits)
    for width in (1366, 1024):  # it made the page wider than the window, and the surgeon's column as wide as a word
        page.set_viewport_size({"width": width, "height": 768})
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        assert page.locator(".carts td:nth-child(4) strong").first.evaluate(LINES) == 1


def test_an_empty_folder_becomes_the_made_up_hospital_and_its_wrong_cell_is_fixed(
    opened: Opening, tmp_path: Path
) -> None:
    (tmp_path / "north").mkdir()
    desk = Desk(tmp_path / "north", tmp_path / "papers", lambda: NOW)
    page, file = opened(desk), tmp_path / "north" / "schedule.xlsx"
    expect(page.get_by_role("button", name="Write empty workbooks")).to_be_visible()
    assert wrong_on(page) == []
    page.get_by_role("button", name="Try a made-up hospital").click()
    expect(page.get_by_role("button", name="Try a made-up hospital")).to_have_count(0)
    before = file.read_bytes()
    go_to(page, "Input")
    expect(page.locator("#input-count", has_text="1 to fix")).to_be_visible()
    assert wrong_on(page) == []
    page.get_by_role("button", name="Write OR 2 into schedule.xlsx").click()
    expect(page.locator("#input-count", has_text="Nothing to fix")).to_be_visible()
    assert openpyxl.load_workbook(file)["Schedule"]["C8"].value == "OR 2"
    page.get_by_role("button", name="Undo").click()
    expect(page.locator("#input-count", has_text="1 to fix")).to_be_visible()
    assert file.read_bytes() == before


def test_the_headers_of_another_system_are_given_their_meaning_and_its_cases_are_there(
    opened: Opening, tmp_path: Path
) -> None:
    site, file = site_and_file(tmp_path, SEMICOLONS)
    desk = Desk(site, tmp_path / "papers", lambda: NOW)
    page = opened(desk)
    go_to(page, "Input")
    page.get_by_label("File", exact=True).set_input_files(file)
    page.get_by_role("button", name="Check it").click()
    expect(page.get_by_text("Still needed: case, day, room")).to_be_visible()
    assert wrong_on(page) == []
    for header, means in (one.split("=") for one in SAID[SEMICOLONS.name].split(";")):
        page.get_by_label(f"What {header} means", exact=True).select_option(means)
    page.get_by_role("button", name="Look again with these meanings").click()
    expect(page.get_by_text("Still needed")).to_have_count(0)
    assert wrong_on(page) == []
    page.get_by_role("button", name="Remember this and check the schedule").click()
    keep = page.get_by_role("button", name="Keep it", exact=True)
    expect(keep).to_be_visible()
    assert wrong_on(page) == []
    keep.click()
    expect(page.get_by_role("heading", name="Input", exact=True)).to_be_visible()
    go_to(page, "Tonight")
    ended(press_build(page, desk))
    expect(page.get_by_role("heading", name="Carts for Thu 26 Nov 2026")).to_be_visible()
    go_to(page, "Carts")
    for number, room in (("C-1", "OR 1"), ("C-2", "OR 2")):
        expect(page.get_by_role("row").filter(has_text=number)).to_contain_text(room)
