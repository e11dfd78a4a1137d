"""A cart marked built by keyboard alone: the end of its number and Enter, at most five keys."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from picklist.server.desk import Desk
from picklist.tasks.cart_reports import carts_told
from tests.server.browsing import Opening, faults, go_to, opening
from tests.server.keys import BY_HAND, SCANNED, Keyboard
from tests.server.site import DOOR, LAST_DAY, NOW, at, client_of
from tests.tasks.small_folder import tell_by_scans

pytestmark = pytest.mark.browser
MOST_KEYS = 5
COUNTED = "window.keys = 0; addEventListener('keydown', () => { window.keys += 1; }, true);"


@pytest.fixture
def opened(browser: Browser) -> Iterator[Opening]:
    with opening(browser) as open_page:
        yield open_page


def keys(page: Page) -> int:
    return int(page.evaluate("const many = window.keys; window.keys = 0; many"))


def built(desk: Desk) -> dict[str, str]:
    """Who built which cart."""
    return {case: one.by for case, one in carts_told(desk.folder, LAST_DAY).built.items() if one.done}


def test_a_cart_is_marked_built_with_five_keys_at_most_and_undone(evening: Desk, opened: Opening) -> None:
    plan = evening.plan()
    assert plan is not None
    first, second = (cart.case.number for cart in plan.carts[:2])
    page = opened(evening)
    keyboard = Keyboard(page)
    page.add_init_script(COUNTED)
    go_to(page, "Carts")
    expect(page.get_by_label("Initials")).to_be_focused()
    keyboard.type("QX\n", BY_HAND)
    expect(page.get_by_label("Cart built")).to_be_focused()
    keys(page)

    # The end of the number, as the table shows it, and Enter; two carts one after the other.
    answer = page.locator("#answer")
    row = page.get_by_role("row").filter(has_text=first)
    end = row.locator(".end").inner_text()
    keyboard.type(end, BY_HAND)
    expect(page.locator("#which")).to_contain_text(first)
    page.keyboard.press("Enter")
    expect(answer).to_contain_text(f"Cart {first}")
    expect(answer).to_contain_text("is recorded as built by QX")
    assert 1 <= keys(page) <= MOST_KEYS
    expect(row.locator(".boxed")).to_contain_text("built")
    keyboard.type(f"{second[-4:]}\n", BY_HAND)
    expect(answer).to_contain_text(f"Cart {second}")
    assert 1 <= keys(page) <= MOST_KEYS
    assert built(evening) == {first: "QX", second: "QX"}
    assert faults(page) == []

    # Undone, again by keyboard; the cart is as if nobody had reported it.
    for key in ("Tab", "Tab", "Enter"):
        page.keyboard.press(key)
    expect(answer).to_contain_text(f"Undone: cart {second}")
    assert keys(page) <= MOST_KEYS
    expect(page.get_by_label("Cart built")).to_be_focused()
    assert list(carts_told(evening.folder, LAST_DAY).built) == [first]

    # What cannot be marked is said in words, and nothing is recorded.
    for typed, says in ((first, "is built already"), ("9999", "No cart"), (first[-1:], "at least 2 characters")):
        keyboard.type(f"{typed}\n", BY_HAND)
        expect(answer).to_contain_text(says)
    assert list(carts_told(evening.folder, LAST_DAY).built) == [first]

    # The initials are known on other pages of this window too.
    go_to(page, "Scan")
    # They sign DONE, however soon it comes after the label.
    answers = page.locator("#scan-answer")
    before = int(answers.get_attribute("data-number") or 0)
    keyboard.type(f"CART {second}\nDONE\n", BY_HAND)
    expect(answers).to_have_attribute("data-number", str(before + 3))
    expect(page.get_by_role("heading", name="No cart is open")).to_be_visible()
    assert built(evening) == {first: "QX", second: "QX"}


def test_a_scanner_on_the_page_of_carts_opens_the_cart_for_scanning_and_marks_nothing(
    evening: Desk, opened: Opening
) -> None:
    plan = evening.plan()
    assert plan is not None
    number = plan.carts[0].case.number
    page = opened(evening)
    keyboard = Keyboard(page)
    go_to(page, "Carts")
    page.get_by_label("Initials").fill("QX")
    page.get_by_label("Cart built").focus()
    keyboard.type(f"{number}\n", SCANNED)  # a bar code that holds a number alone
    expect(page.get_by_role("heading", name="Scan carts")).to_be_attached()
    expect(page.locator("#scan-answer")).to_be_visible()
    assert built(evening) == {}
    go_to(page, "Carts")
    expect(page.get_by_label("Cart built")).to_be_focused()
    keyboard.type(f"{number}.R{plan.revision}\n", SCANNED)
    expect(page.get_by_role("heading", name=f"Cart {number}", exact=True)).to_be_visible()
    assert built(evening) == {}


def test_a_mark_that_lists_were_built_on_or_that_was_reported_over_is_not_undone(evening: Desk) -> None:
    plan = evening.plan()
    assert plan is not None
    number = plan.carts[0].case.number
    client = client_of(evening)
    form = {"token": DOOR.token, "by": "QX", "cart": number}
    answer = client.post(at("carts"), data=form)
    page = client.get(answer.headers["location"]).text
    over = page.partition('name="over" value="')[2].partition('"')[0]
    assert over
    undo = {"token": DOOR.token, "case": number, "over": over, "revision": str(plan.revision + 1)}
    assert "lists were built since" in client.get(client.post(at("carts/undo"), data=undo).headers["location"]).text
    tell_by_scans(evening.folder, [f"CART {number}", "NOTE wheel squeaks"], NOW, LAST_DAY)
    undo["revision"] = str(plan.revision)
    assert "was reported again" in client.get(client.post(at("carts/undo"), data=undo).headers["location"]).text
    assert built(evening) == {number: "QX"}
    scanned = client.post(at("carts"), data={**form, "cart": f"{plan.carts[1].case.number}.R1"})
    assert "/scan?w=" in scanned.headers["location"]
    assert built(evening) == {number: "QX"}
