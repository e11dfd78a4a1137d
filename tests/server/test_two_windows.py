"""Two windows at once: what one records the other shows within two seconds, and what is typed there stays."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, expect

from picklist.server.desk import Desk
from picklist.tasks.cart_reports import carts_told
from tests.server.browsing import Opening, faults, go_to, opening
from tests.server.site import LAST_DAY, NOW
from tests.tasks.small_folder import tell_by_scans

pytestmark = pytest.mark.browser
CASE, OTHER = "C-4123", "C-4121"


@pytest.fixture
def opened(browser: Browser) -> Iterator[Opening]:
    with opening(browser) as open_page:
        yield open_page


def test_what_one_window_records_the_other_shows_and_a_form_that_is_filled_in_stays(
    evening: Desk, opened: Opening
) -> None:
    one = opened(evening)
    two = one.context.new_page()
    two.goto(one.url)
    go_to(two, "Carts")
    row = two.get_by_role("row").filter(has_text=CASE)
    expect(row).to_contain_text("not started")
    two.get_by_role("link", name=f"Mark built, cart {OTHER}").focus()

    # The first window marks a cart built; the word about it is said there alone.
    one.goto(one.url + f"carts/case?case={CASE}")
    one.get_by_label("Built by").fill("QX")
    one.get_by_role("button", name="Built", exact=True).first.click()
    expect(one.get_by_text(f"Cart {CASE} is recorded as built.")).to_be_visible()
    expect(row.get_by_role("link", name=f"Change, cart {CASE}")).to_be_visible()
    expect(two.get_by_text("is recorded as built")).to_have_count(0)
    expect(two.get_by_role("link", name=f"Mark built, cart {OTHER}")).to_be_focused()

    # A command records something of a cart whose form is being filled in: what was typed stays, and is said to be old.
    two.get_by_role("link", name=f"Mark built, cart {OTHER}").click()
    two.get_by_label("Remark").fill("left wheel squeaks")
    tell_by_scans(evening.folder, [f"CART {OTHER}", "BY mk"], NOW, LAST_DAY)
    expect(two.get_by_text("Something was recorded in another window.")).to_be_visible()
    assert two.get_by_label("Remark").input_value() == "left wheel squeaks"
    expect(one.get_by_role("link", name=f"Change, cart {OTHER}")).to_be_visible()
    expect(one.get_by_text(f"Cart {CASE} is recorded as built.")).to_be_visible()
    two.get_by_label("Built by").fill("QX")
    two.get_by_role("button", name="Built", exact=True).first.click()
    expect(two.get_by_text("was reported again")).to_be_visible()
    assert faults(two) == []
    two.get_by_role("link", name="Back to your form").click()
    assert two.get_by_label("Remark").input_value() == "left wheel squeaks"
    assert faults(two) == []
    two.get_by_role("button", name="Built", exact=True).first.click()
    expect(two.get_by_text(f"Cart {OTHER} is recorded as built.")).to_be_visible()
    facts = carts_told(evening.folder, LAST_DAY).built[OTHER]
    assert (facts.done, facts.by, facts.remark) == (True, "QX", "left wheel squeaks")


def test_two_windows_scan_the_same_cart_and_both_see_what_is_left(evening: Desk, opened: Opening) -> None:
    plan = evening.plan()
    assert plan is not None
    cart = next(one for one in plan.carts if len([line for line in one.trays if line.set_id]) > 1)
    first, second = (line.set_id for line in cart.trays[:2])
    one = opened(evening)
    go_to(one, "Scan")
    two = one.context.new_page()
    two.goto(one.url.partition("?")[0])
    for page, code in ((one, f"{cart.case.number}.R1"), (two, f"{cart.case.number}.R1"), (one, first)):
        number = int(page.locator("#scan-answer").get_attribute("data-number") or 0)
        page.locator("#scan").fill(code)
        page.keyboard.press("Enter")
        expect(page.locator("#scan-answer")).to_have_attribute("data-number", str(number + 1))
    two.locator("#scan").fill(second[:3])  # being typed while the other window scans
    expect(two.locator(".left .code", has_text=first)).to_have_count(0)
    assert two.locator("#scan").input_value() == second[:3]
    two.locator("#scan").fill(second)
    two.keyboard.press("Enter")
    expect(one.locator(".left .code", has_text=second)).to_have_count(0)
    facts = carts_told(evening.folder, LAST_DAY).built[cart.case.number]
    assert {taken.set_id for taken in facts.sets} == {first, second}
