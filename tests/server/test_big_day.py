"""The three users' ways through the page on a day of two hundred cases, in a real Chromium.

The day is generated, with three sets where the sample has one, so that there are conflicts with
remedies, and with short cards. It is built once, by the button of the page; the ways follow each
other over it as in one evening.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from itertools import count
from pathlib import Path

import openpyxl
import pypdfium2
import pytest
from playwright.sync_api import Browser, Page, expect

from benchmarks.scenario import BIG_DAY, make_site, write_site
from picklist.model.conflicts import Conflict, ConflictKind
from picklist.model.known import conflict_key
from picklist.model.plan import Plan
from picklist.server.desk import Desk
from picklist.sets.find_conflicts import FoundConflict
from picklist.sets.remedies.find import with_remedies
from picklist.sets.remedies.trial import Trials
from picklist.tasks.cart_reports import carts_told
from tests.kept import few_lists, is_looked_at
from tests.server.browsing import faults, go_to, marked_notes, opening, press_build, send_back_mistyped, wrong_schedule
from tests.server.site import desk_of, ended

pytestmark = [pytest.mark.browser, pytest.mark.printed]
CASES = 200


def big_hospital(folder: Path) -> tuple[Desk, bytes]:
    """Two hundred cases, of which two are mistyped in the schedule; and the schedule as it should be."""
    tables = make_site(replace(BIG_DAY, sets=3, past_cases=0), 1)
    numbers = count()
    # Cards with an eighth of their items print in half the time.
    cards = [row for row in tables["Cards"] if row["surgeon"] == "every"]
    tables["Cards"] = [row for row in cards if row["kind"] != "item" or next(numbers) % 8 == 0]
    write_site(folder, {name: rows for name, rows in tables.items() if rows})
    book = openpyxl.load_workbook(folder / "settings.xlsx")
    for name, value in book["Settings"].iter_rows(min_row=2, max_col=2):
        if name.value == "draws":
            value.value = "0"
    book.save(folder / "settings.xlsx")
    right = (folder / "schedule.xlsx").read_bytes()
    (folder / "schedule.xlsx").write_bytes(wrong_schedule(folder))
    return desk_of(folder), right


@contextmanager
def few_remedies() -> Iterator[None]:
    """Remedies are looked for until one conflict has some, for one is tried; to look for all takes half of a build."""
    done = list[Conflict]()

    def sparing(trials: Trials, one: Conflict, found: FoundConflict) -> Conflict:
        if any(known.remedies for known in done):
            return one
        done.append(with_remedies(trials, one, found))
        return done[-1]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("picklist.sets.remedies.side_by_side.with_remedies", sparing)
        yield


@pytest.fixture(scope="module")
def big(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Page, Desk]]:
    """The page of the big day after its problems were seen, the right schedule dropped in, and the lists built."""
    desk, right = big_hospital(tmp_path_factory.mktemp("big") / "Fernhollow")
    with opening(browser) as open_page:
        page = open_page(desk)
        go_to(page, "Input")
        mistyped = page.get_by_role("row").filter(has_text="GEN-CHOLE")
        expect(mistyped.first).to_contain_text("G8")
        expect(page.get_by_role("row").filter(has_text="D9 (start)").first).to_contain_text("a time of day")
        book = {"name": "schedule (1).xlsx", "mimeType": "application/octet-stream", "buffer": right}
        page.get_by_label("File").set_input_files(book)  # type: ignore[arg-type]
        page.get_by_role("button", name="Check it").click()
        expect(page.get_by_text("No new problems")).to_be_visible()
        expect(page.get_by_text(re.compile("Problems solved by this file: 2 to fix"))).to_be_visible()
        page.get_by_role("button", name="Keep it", exact=True).click()
        expect(page.get_by_text("schedule.xlsx is kept")).to_be_visible()
        go_to(page, "Tonight")
        with few_remedies(), few_lists():
            ended(press_build(page, desk))
        expect(page.get_by_role("heading", name="Carts for Thu 26 Nov 2026")).to_be_visible()
        expect(page.get_by_text(f"{CASES} carts to build")).to_be_visible()
        yield page, desk


def plan_of(desk: Desk) -> Plan:
    plan = desk.plan()
    assert plan is not None
    return plan


def fits(page: Page) -> None:
    """No page of the big day is wider than the screens that it is read on."""
    for width in (1366, 1024):
        page.set_viewport_size({"width": width, "height": 768})
        assert page.evaluate("document.documentElement.scrollWidth") <= width, page.url
    page.set_viewport_size({"width": 1366, "height": 768})


def test_the_evening_shift_finds_prints_and_marks_one_cart_among_two_hundred(big: tuple[Page, Desk]) -> None:
    page, desk = big
    cart = next(cart for cart in plan_of(desk).carts[77:] if is_looked_at(cart.case.number))
    number, item = cart.case.number, cart.sundries[0].need
    go_to(page, "Papers")
    fits(page)
    page.get_by_label("Find").fill(number)
    page.keyboard.press("Enter")
    expect(page.get_by_role("link", name=re.compile("Pick list"))).to_have_count(2)
    link = page.get_by_role("link", name=f"Pick list {number}, PDF").get_attribute("href")
    sent = page.context.request.get(f"{page.url.split('/papers')[0].rsplit('/', 1)[0]}{link}")
    with pypdfium2.PdfDocument(sent.body()) as printed:
        assert number in printed[0].get_textpage().get_text_range()
    with page.expect_popup() as waiting:
        page.get_by_role("link", name=f"Pick list {number}, page").click()
    sheet = waiting.value
    expect(sheet.get_by_text(number).first).to_be_visible()
    with pypdfium2.PdfDocument(sheet.pdf()) as printed:  # as the browser prints it
        text = "".join(printed[n].get_textpage().get_text_range() for n in range(len(printed)))
    assert item.name in " ".join(text.split())
    sheet.close()

    go_to(page, "Carts")
    fits(page)
    page.get_by_label("Find").fill(f"{cart.case.room} {number}")
    page.keyboard.press("Enter")
    page.get_by_role("link", name=f"Mark built, cart {number}").click()
    fits(page)
    page.get_by_label("Built by").fill("QX")
    page.get_by_label(f"Missing of {item.name}", exact=True).fill("1")
    page.get_by_role("button", name="Built", exact=True).first.click()
    expect(page.get_by_text(f"Cart {number} is recorded as built.")).to_be_visible()
    expect(page.get_by_text(f"1 of {CASES} carts built")).to_be_visible()
    built = carts_told(desk.folder, plan_of(desk).day).built[number]
    assert [(m.thing, m.quantity) for m in built.missing] == [(item.thing, 1)]


def test_the_coordinator_sees_the_conflicts_tries_a_remedy_and_takes_down_the_decision(
    big: tuple[Page, Desk],
) -> None:
    page, desk = big
    conflicts = list(plan_of(desk).conflicts)
    assert len(conflicts) > 4
    go_to(page, "Tonight")
    fits(page)
    expect(page.locator("details.conflict")).to_have_count(len(conflicts))
    sought = next(one for one in conflicts if any(remedy.edits for remedy in one.remedies))
    entry = page.locator(f'[id="conflict-{sought.id}"]')
    entry.locator("summary").click()
    if sought.proof:
        expect(entry).to_contain_text("Proof.")
    entry.get_by_role("button", name="Try it").first.click()
    expect(page.get_by_text("conflicts before")).to_be_visible()
    before, after = (int(one) for one in page.locator(".figures strong").all_inner_texts())
    of_sets = [one for one in conflicts if one.kind is not ConflictKind.QUEUE]  # a trial does not reckon the queue
    assert before == len(of_sets)
    assert after < before
    expect(page.locator(f'[id="conflict-{sought.id}-Gone"]')).to_be_visible()
    expect(page.get_by_role("heading", name="New")).to_have_count(0)
    fits(page)
    board = page.frame_locator("iframe[name=tried-board]")
    expect(board.locator(".todo li")).to_have_count(after)
    page.get_by_role("link", name="As it is now").click()
    expect(board.locator(".todo li")).to_have_count(len(conflicts))

    go_to(page, "Decisions")
    fits(page)
    page.locator(f'a[href$="{page.evaluate("about => encodeURIComponent(about)", conflict_key(sought))}"]').click()
    page.get_by_role("radio").nth(1).check()
    page.get_by_label("Informed").fill("Dr. Quill's office")
    page.get_by_label("By (initials)").fill("co")
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text("1 decided")).to_be_visible()
    assert carts_told(desk.folder, plan_of(desk).day).decided[conflict_key(sought)].decided == sought.remedies[0].text


def test_the_board_of_two_hundred_cases_is_searched_and_prints_in_black_and_white(big: tuple[Page, Desk]) -> None:
    page, desk = big
    cart = plan_of(desk).carts[150]
    go_to(page, "Board")
    fits(page)
    board = page.frame_locator("iframe.board")
    board.get_by_role("searchbox", name="Find").fill(cart.case.number)
    board.locator("#results a").first.click()
    expect(board.locator(".leaf.shown")).to_contain_text(cart.case.number)
    with page.expect_popup() as waiting:
        page.get_by_role("link", name="Open the board alone").click()
    alone = waiting.value
    alone.wait_for_load_state("load")
    with pypdfium2.PdfDocument(alone.pdf(prefer_css_page_size=True)) as printed:
        assert len(printed) > 1
        text = "".join(printed[n].get_textpage().get_text_range() for n in range(len(printed)))
    whole = " ".join(text.split())
    for one in (one for one in plan_of(desk).conflicts):
        assert one.kind.value in whole.casefold()
        assert one.waiter in whole
    alone.close()


def test_an_office_gets_its_workbook_and_each_mistake_back_in_its_cell(big: tuple[Page, Desk], tmp_path: Path) -> None:
    page, _desk = big
    go_to(page, "Offices")
    row = send_back_mistyped(page, tmp_path, index=2)
    expect(row).to_contain_text("expected a whole number")
    fits(page)
    assert any("whole number" in note for note in marked_notes(page))


def test_axe_finds_nothing_to_mend_on_the_long_pages(big: tuple[Page, Desk]) -> None:
    page, _desk = big
    for name in ("Tonight", "Decisions"):
        go_to(page, name)
        assert faults(page) == [], name
