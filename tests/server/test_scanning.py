"""The scan field in a real Chromium, with a scanner that acts as a keyboard: some ms a character, then Enter."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from picklist.model.plan import Cart, Plan
from picklist.server.desk import Desk
from picklist.tasks.cart_reports import carts_told
from tests.server.browsing import Opening, faults, go_to, opening
from tests.server.keys import BY_HAND, SCANNED, Keyboard
from tests.server.site import LAST_DAY

pytestmark = pytest.mark.browser
# A stand-in for the sound card: it keeps the pitch of each tone.
HEARD = """window.heard = [];
window.AudioContext = class {
  currentTime = 0; destination = {};
  createGain() { return { gain: {}, connect: (to) => to }; }
  createOscillator() { const tone = { frequency: {}, connect: (to) => to, stop() {},
    start() { window.heard.push(tone.frequency.value); } }; return tone; }
};"""

# Stand-ins for a tablet's camera and for the browser's own reader of codes, which sees one code all the time.
CAMERA = """HTMLMediaElement.prototype.play = async () => {};
navigator.mediaDevices.getUserMedia = async () => document.createElement("canvas").captureStream();
window.BarcodeDetector = class { static async getSupportedFormats() { return ["code_128"]; }
async detect() { return window.seen ? [{ rawValue: window.seen }] : []; } };"""


@pytest.fixture
def opened(browser: Browser) -> Iterator[Opening]:
    with opening(browser) as open_page:
        yield open_page


class Scanning:
    """A window with the scan page, and the scanner in the hand."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.keyboard = Keyboard(page)
        self.answer = page.locator("#scan-answer")

    def number(self) -> int:
        return int(self.answer.get_attribute("data-number") or 0)

    def scan(self, *codes: str, end: str = "\n") -> str:
        """Scan one code after the other without waiting; the last answer's text."""
        before = self.number()
        for code in codes:
            self.keyboard.type(code + end, SCANNED)
        expect(self.answer).to_have_attribute("data-number", str(before + len(codes)))
        return self.answer.inner_text()

    def word(self) -> str:
        return self.answer.locator(".word").inner_text()


def two_carts(plan: Plan) -> tuple[Cart, Cart, str]:
    """A cart with two sets and goods, another one, and a set that only the other waits for."""
    one = next(cart for cart in plan.carts if len(cart.trays) > 1 and cart.goods and cart.trays[0].set_id)
    trays = {line.need.thing for line in one.trays}
    for other in plan.carts:
        for line in other.trays:
            if other is not one and line.set_id and line.need.thing not in trays:
                return one, other, line.set_id
    raise AssertionError("no such carts")


def test_a_scanner_opens_a_cart_fills_it_and_every_scan_is_answered_in_word_shape_and_sound(
    evening: Desk, opened: Opening
) -> None:
    plan = evening.plan()
    assert plan is not None
    cart, other, foreign = two_carts(plan)
    number, first = cart.case.number, cart.trays[0].set_id
    page = opened(evening)
    page.add_init_script(HEARD)
    page.set_viewport_size({"width": 800, "height": 600})
    go_to(page, "Scan")
    scanning = Scanning(page)

    # Nothing is lost of scans that come faster than their answers.
    goods = [line.need.thing for line in cart.goods if line.need.open + line.need.hold == 1 and not line.is_short][:3]
    scanning.scan(f"{number}.R{plan.revision}", first, *goods)
    assert scanning.word() == "OK"
    expect(page.locator(".left .code", has_text=first)).to_have_count(0)
    facts = carts_told(evening.folder, LAST_DAY).built[number]
    assert [one.set_id for one in facts.sets] == [first]
    assert [one.item for one in facts.scanned] == goods

    said = scanning.scan(foreign)
    assert scanning.word() == "WRONG"
    assert f"It belongs to {other.case.number}" in " ".join(said.split())
    low = page.evaluate("window.heard.at(-1)")
    shape = scanning.answer.locator("svg").inner_html()
    scanning.scan(goods[0])
    assert scanning.word() == "SURPLUS"
    assert page.evaluate("window.heard.at(-1)") > low
    assert scanning.answer.locator("svg").inner_html() != shape
    assert page.evaluate("parseFloat(getComputedStyle(document.querySelector('.word')).fontSize)") >= 60
    assert faults(page) == []

    page.get_by_role("button", name="Undo the last scan").click()
    expect(scanning.answer.locator(".word")).to_have_text("UNDONE")
    expect(page.locator("#scan")).to_be_focused()
    page.get_by_role("button", name=f"Missing: {cart.trays[1].name_with_side}").click()
    expect(scanning.answer.locator(".word")).to_have_text("STILL MISSING")
    page.get_by_label("Initials").fill("QX")
    page.get_by_role("button", name="Built").click()
    expect(page.get_by_role("heading", name="No cart is open")).to_be_visible()
    facts = carts_told(evening.folder, LAST_DAY).built[number]
    assert (facts.done, facts.by, [one.thing for one in facts.missing]) == (True, "QX", [cart.trays[1].need.thing])
    assert faults(page) == []


def test_half_scans_another_layout_and_scans_beside_the_field_are_caught(evening: Desk, opened: Opening) -> None:
    plan = evening.plan()
    assert plan is not None
    cart, _, _ = two_carts(plan)
    first = cart.trays[0].set_id
    page = opened(evening)
    go_to(page, "Scan")
    scanning = Scanning(page)
    scanning.scan(f"{cart.case.number}.R{plan.revision}")

    # A German computer and an American scanner: its hyphen comes as another letter.
    said = " ".join(scanning.scan(first.replace("-", "ß")).split())
    assert scanning.word() == "OK"
    assert "different keyboard layouts" in said
    assert f"read as {first}" in said

    # Half a scan is said, and does not stick to the next one.
    before = scanning.number()
    scanning.keyboard.type(first[:4], SCANNED)
    expect(scanning.answer).to_contain_text("HALF A SCAN")
    assert scanning.number() == before
    second = cart.trays[1].set_id
    assert second in scanning.scan(second)
    assert scanning.word() == "OK"

    # A scan while the focus is in the initials or on a button goes into the scan field all the same.
    page.get_by_label("Initials").focus()
    item = cart.goods[0].need.thing
    assert item in scanning.scan(item)
    assert page.get_by_label("Initials").input_value() == ""
    page.get_by_role("button", name="Undo the last scan").focus()
    assert "already" in scanning.scan(first)

    # A scanner that ends with the tab key; and by hand, slowly.
    assert "already" in scanning.scan(first, end="\t")
    scanning.keyboard.type("UNDO\n", BY_HAND)
    expect(scanning.answer.locator(".word")).to_have_text("UNDONE")
    facts = carts_told(evening.folder, LAST_DAY).built[cart.case.number]
    assert {one.set_id for one in facts.sets} == {first, second}


def test_a_code_before_a_camera_is_scanned_once_where_the_browser_reads_codes_itself(
    evening: Desk, opened: Opening
) -> None:
    plan = evening.plan()
    assert plan is not None
    cart, _, _ = two_carts(plan)
    page = opened(evening)
    go_to(page, "Scan")
    expect(page.get_by_role("button", name="Use the camera")).to_have_count(0)  # this browser reads no codes
    page.add_init_script(CAMERA)
    page.reload()
    scanning = Scanning(page)
    page.get_by_role("button", name="Use the camera").click()
    expect(page.get_by_role("button", name="Stop the camera")).to_be_visible()
    for number, code in enumerate((f"{cart.case.number}.R1", cart.trays[0].set_id), start=1):
        page.evaluate("code => { window.seen = code; }", code)
        expect(scanning.answer).to_have_attribute("data-number", str(number))
    assert scanning.word() == "OK"
    page.get_by_role("button", name="Stop the camera").click()
    expect(page.get_by_role("button", name="Use the camera")).to_be_visible()
