"""The coordinator at the board, in a real Chromium."""

from __future__ import annotations

from dataclasses import replace
from importlib import resources
from itertools import pairwise
from pathlib import Path
from typing import Literal
from urllib.parse import quote

import pypdfium2
import pytest
from playwright.sync_api import Browser, Page, expect

from picklist.documents.board.page import board_html
from tests.board.days import sample_day
from tests.board.names import NASTY, long_names, nasty_plan
from tests.patience import THOROUGH, tries

pytestmark = pytest.mark.browser
AXE = resources.files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8")
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
SHORT = "C-4123/T-WRISTPL"


def open_leaf(page: Page) -> str:
    """The heading of the leaf that is open; empty when none is."""
    shown = page.locator(".leaf.shown h3")
    return shown.inner_text() if shown.count() else ""


def seen(page: Page, query: str) -> int:
    return page.locator(f"{query}:visible").count()


def faults(page: Page, where: str = "html", rules: list[str] = RULES) -> list[str]:
    """What the accessibility checker finds; what is not shown is out of its way meanwhile, for it takes long."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE)
    # A link that lies half under the hours would count as too small a target.
    page.evaluate("document.querySelector('.pane').scrollTop = 0")
    found = page.evaluate(
        """async ([where, rules]) => {
            const hidden = document.querySelectorAll(".leaf:not(.shown), details:not([open]) > :not(summary)");
            const put_back = Array.from(hidden, node => {
                const mark = document.createComment("");
                node.replaceWith(mark);
                return () => mark.replaceWith(node);
            });
            try { return await axe.run(where, {runOnly: rules, resultTypes: ["violations"]}); }
            finally { put_back.forEach(one => one()); }
        }""",
        [where, rules],
    )
    assert len(found["passes"]) > (20 if where == "html" and rules == RULES else 0)
    return [f"{v['id']}: {n['target']} {n['failureSummary']}" for v in found["violations"] for n in v["nodes"][:3]]


def test_a_conflict_shows_itself_and_its_proof_is_one_click_away(board: Page) -> None:
    first = board.locator(".todo li a").first
    expect(first).to_be_visible()
    entry = board.locator(".todo li a", has_text="Wrist plates")
    expect(entry).to_contain_text("short")
    expect(entry).to_contain_text("2 h 25 min short")
    expect(entry).to_contain_text("11:00")
    entry.click()
    leaf = board.locator(".leaf.shown")
    expect(leaf).to_have_count(1)
    expect(leaf).to_contain_text("At 11:00 Wrist plates is taken or wanted by 2 cases")
    expect(leaf).to_contain_text("Remedies")
    expect(board.locator("a.case.lit")).to_have_count(2)
    assert board.url.endswith(f"#conflict={SHORT}")
    tray = board.locator(".group.lit .tray")
    expect(tray).to_contain_text("Wrist plates")
    expect(tray.locator("a")).to_be_in_viewport(ratio=0.9)
    box = board.locator(".group.lit a.bound.lit").first.bounding_box()
    assert box is not None
    assert 0 < box["x"] < 1366 - box["width"]
    assert 0 < box["y"] < 768 - box["height"]


def test_the_chance_of_failing_stands_beside_the_conflict(board: Page) -> None:
    entry = board.locator(".todo li a", has_text="Thyroid")
    expect(entry).to_contain_text("late in")
    entry.click()
    expect(board.locator(".leaf.shown .times")).to_contain_text("of simulated days")
    expect(board.locator(".leaf.shown .acts")).to_contain_text("start sterilize")


@pytest.mark.parametrize(
    ("link", "head"),
    [
        (f"#conflict={SHORT}", "Wrist plates, right for C-4123 in OR 5"),
        (f"#conflict={quote(SHORT, safe='')}", "Wrist plates, right for C-4123 in OR 5"),
        ("#case=C-4105", "Case C-4105"),
        ("#tray=T-HIP", "Hip basic"),
    ],
)
def test_a_deep_link_opens_its_leaf(page: Page, boards: dict[str, str], link: str, head: str) -> None:
    page.goto(boards["sample"] + link)
    assert open_leaf(page) == head
    assert page.evaluate("document.activeElement.classList.contains('leaf')")
    assert page.evaluate("scrollY") == 0


def test_going_back_closes_and_goes_to_what_was_open_before(board: Page) -> None:
    board.locator(".todo li a").nth(0).click()
    first = open_leaf(board)
    board.locator(".todo li a").nth(1).click()
    assert open_leaf(board) not in ("", first)
    board.go_back()
    board.wait_for_function("t => document.querySelector('.leaf.shown h3')?.innerText === t", arg=first)
    board.go_back()
    expect(board.locator(".leaf.shown")).to_have_count(0)


def test_kinds_of_conflict_are_filtered(board: Page) -> None:
    whole = seen(board, ".todo li")
    short = board.locator(".todo li[data-kind=short]").count()
    assert 0 < short < whole
    board.get_by_label("short", exact=False).first.uncheck()
    assert seen(board, ".todo li") == whole - short
    assert seen(board, ".todo li[data-kind=short]") == 0
    expect(board.get_by_role("status")).to_contain_text(f"{whole - short} of {whole} conflicts")
    board.get_by_role("button", name="Clear").click()
    assert seen(board, ".todo li") == whole


def test_a_span_of_time_leaves_what_is_needed_in_it(board: Page) -> None:
    board.get_by_label("From", exact=True).select_option(label="13:00")
    kept = board.locator(".todo li:visible")
    assert kept.count() >= 3
    limit = int(board.get_by_label("From", exact=True).input_value())
    assert all(int(one.get_attribute("data-begins") or "0") >= limit for one in kept.all())
    expect(board.locator("a.case", has_text="4105")).to_have_class("case gives off")


@pytest.mark.parametrize("words", ["c-4105", "or 1 quill colectomy", "Dr. QUILL right"])
def test_a_case_is_found_by_number_room_surgeon_and_procedure(board: Page, words: str) -> None:
    board.get_by_role("searchbox").fill(words)
    expect(board.locator("#results a", has_text="C-4105")).to_be_visible()
    assert "off" not in (board.locator("a.case", has_text="4105").get_attribute("class") or "")
    assert 0 < seen(board, ".row.room") < 10
    board.locator("#results a", has_text="C-4105").click()
    assert open_leaf(board) == "Case C-4105"


def test_a_tray_is_found_with_every_case_that_uses_it(board: Page) -> None:
    board.get_by_role("searchbox").fill("hip basic")
    kept = board.locator("a.case:not(.off):visible")
    users = [cart.case.number for cart in sample_day().carts if any("Hip basic" in t.name for t in cart.trays)]
    assert sorted(kept.evaluate_all("all => all.map(one => one.dataset.key)")) == sorted(f"case={n}" for n in users)
    board.keyboard.press("ArrowDown")
    board.locator("#results a", has_text="Hip basic").last.focus()
    board.keyboard.press("Enter")
    assert open_leaf(board) == "Hip basic"


def test_what_is_not_there_is_said_not_to_be(board: Page) -> None:
    board.get_by_role("searchbox").fill("zebra")
    expect(board.get_by_text("No conflict matches")).to_be_visible()
    expect(board.get_by_role("status")).to_contain_text("0 of")


def test_all_of_it_goes_by_keyboard_alone(board: Page) -> None:
    board.keyboard.press("n")
    first = open_leaf(board)
    board.keyboard.press("n")
    second = open_leaf(board)
    assert "" not in (first, second)
    assert first != second
    board.keyboard.press("p")
    assert open_leaf(board) == first
    board.keyboard.press("Escape")
    assert open_leaf(board) == ""
    board.keyboard.press("/")
    board.keyboard.type("4123")
    board.keyboard.press("ArrowDown")
    board.keyboard.press("Enter")
    assert open_leaf(board) == "Case C-4123"
    board.keyboard.press("Escape")
    board.keyboard.press("Escape")
    assert board.get_by_role("searchbox").input_value() == ""


def test_arrows_walk_from_bar_to_bar_and_enter_opens(board: Page) -> None:
    board.locator("a.case").first.focus()
    key = "document.activeElement.dataset.key"
    assert board.evaluate(key) == "case=C-4105"
    board.keyboard.press("ArrowRight")
    assert board.evaluate(key) == "case=C-4106"
    board.keyboard.press("End")
    assert board.evaluate(key) == "case=C-4108"
    board.keyboard.press("Home")
    board.keyboard.press("ArrowDown")
    assert board.evaluate(key) == "case=C-4109"
    board.keyboard.press("Enter")
    assert open_leaf(board) == "Case C-4109"
    board.keyboard.press("Escape")
    assert board.evaluate(key) == "case=C-4109"


def test_tab_reaches_everything_and_is_caught_nowhere(page: Page, boards: dict[str, str]) -> None:
    page.goto(boards["sample"])
    reached: list[str] = []
    for _ in range(70):
        page.keyboard.press("Tab")
        name = page.evaluate("(e => e.id || e.className || e.tagName)(document.activeElement)")
        ring = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
        if name == "BODY":
            break
        assert ring == "solid", name
        reached.append(name)
    assert {"find", "from", "to", "print", "timetable", "letters"} <= set(reached)
    assert sum(1 for name in reached if name.startswith("case")) == 1


def test_single_keys_can_be_turned_off(board: Page) -> None:
    board.get_by_label("single-key shortcuts on").uncheck()
    board.get_by_role("button", name="Print").focus()
    board.keyboard.press("n")
    assert open_leaf(board) == ""


def test_only_rooms_in_trouble_can_be_kept(board: Page) -> None:
    board.get_by_label("only trouble").check()
    rooms = {case.room for case in sample_day().cases for cluster in sample_day().clusters for one in cluster.conflicts
             if case.number in (one.waiter, *one.givers)}  # fmt: skip
    assert sorted(board.locator(".row.room:visible").evaluate_all("all => all.map(one => one.ariaLabel)")) == sorted(
        rooms
    )
    board.get_by_label("only trouble").uncheck()
    assert seen(board, ".row.room") == 10


def test_the_ways_of_the_sets_keep_to_their_rows_when_rows_are_hidden(board: Page) -> None:
    board.get_by_label("only trouble").check()
    off = board.evaluate(
        """() => Array.from(document.querySelectorAll('.way.trouble')).filter(way => way.style.display !== 'none')
        .map(way => {
            const box = way.getBoundingClientRect();
            const end = document.querySelector(`a.case[data-key="${way.dataset.to}"]`).getBoundingClientRect();
            const middle = (end.top + end.bottom) / 2;
            return Math.min(Math.abs(box.bottom - middle), Math.abs(box.top - middle), Math.abs(box.right - end.left));
        })"""
    )
    assert len(off) >= 2
    assert max(off) < 4


def test_the_tables_hold_the_same_facts(board: Page) -> None:
    board.keyboard.press("t")
    plan = sample_day()
    conflicts = sum(len(cluster.conflicts) for cluster in plan.clusters)
    assert seen(board, "#table-conflicts tbody tr") == conflicts
    assert seen(board, "#table-cases tbody tr") == len(plan.carts)
    row = board.locator("#table-conflicts tr", has_text="Wrist plates")
    for word in ("short", "C-4123", "OR 5", "11:00", "2 h 25 min short"):
        expect(row).to_contain_text(word)
    board.get_by_role("searchbox").fill("wrist plates")
    assert seen(board, "#table-conflicts tbody tr") == 1


OPENED = [f"#conflict={SHORT}", "", "#case=C-4131", "#tray=T-HIP"]
IN_BOTH = [(scheme, opened) for scheme in ("light", "dark") for opened in OPENED]


@pytest.mark.parametrize(("scheme", "opened"), IN_BOTH[: tries(8, 5)])  # in the dark the conflict at least
def test_axe_finds_nothing_to_mend(board: Page, opened: str, scheme: Literal["light", "dark"]) -> None:
    """The whole page with a conflict open; beside it other leaves, and in the dark the colours."""
    board.emulate_media(color_scheme=scheme)
    board.evaluate("opened => { location.hash = opened; }", opened)
    expect(board.locator(".leaf.shown")).to_have_count(1 if opened else 0)
    paper = board.evaluate("getComputedStyle(document.documentElement).backgroundColor")
    assert (paper == "rgb(20, 24, 29)") == (scheme == "dark")
    where = ".leaf.shown" if opened in OPENED[2:] and not THOROUGH else "html"
    assert faults(board, where, ["color-contrast"] if scheme == "dark" else RULES) == []


def test_every_case_shows_its_number_in_its_bar_or_below_it_and_the_tools_stand_on_one_line(
    page: Page, boards: dict[str, str]
) -> None:
    """The sample has cases of half an hour, whose bars are too narrow for a number."""
    page.set_viewport_size({"width": 1280, "height": 800})
    page.goto(boards["sample"])
    numbers = page.evaluate(
        """() => Array.from(document.querySelectorAll('a.case[data-key]'), bar => {
            const inside = bar.querySelector('b'), box = bar.querySelector('.in').getBoundingClientRect();
            const all = one => one.getBoundingClientRect();
            const fits = inside.offsetParent && all(inside).right <= box.right && all(inside).bottom <= box.bottom + 1;
            const below = bar.querySelector('.below');
            return [fits ? 'in' : below.offsetParent ? 'below' : 'nowhere', bar.dataset.key];
        })"""
    )
    assert [key for where, key in numbers if where == "nowhere"] == []
    assert {where for where, _ in numbers} == {"in", "below"}
    assert page.evaluate("document.querySelector('.tools').offsetHeight") < 50


def test_the_words_of_a_hatched_bar_that_ends_early_are_whole(page: Page, boards: dict[str, str]) -> None:
    """SPSCREW-01 is on loan and here from 06:50; the field begins at 06:00, and "from 06:50" alone was seen."""
    page.set_viewport_size({"width": 1280, "height": 800})
    page.goto(boards["sample"])
    words = page.locator(".barred", has_text="here from 06:50").locator("span")
    words.scroll_into_view_if_needed()
    page.evaluate("document.getElementById('fit').click()")
    name, box = page.locator(".set .name").first.bounding_box(), words.bounding_box()
    assert name is not None
    assert box is not None
    assert box["x"] >= name["x"] + name["width"]
    assert words.evaluate("one => one.parentElement.getBoundingClientRect().right") < box["x"] + box["width"]


# Of each label of the drawing under a conflict's proof: whether a part of it lies outside its own box, the drawing
# or the panel, another label of its row lies over it, or the heavy line crosses it.
CUT = """() => Array.from(document.querySelectorAll('.leaf.shown .small .line'), line => {
    const of = one => one.getBoundingClientRect(), panel = of(line.closest('.leaf'));
    const apart = (a, b) => a.right <= b.left || b.right <= a.left || a.bottom <= b.top || b.bottom <= a.top;
    const labels = Array.from(line.querySelectorAll(':scope > span, .t, p > span'));
    const heavy = Array.from(line.querySelectorAll('.need'), of);
    return labels.filter(one => one.textContent.trim()).filter(one => {
        const box = of(one), hidden = getComputedStyle(one).overflow !== 'visible';
        const others = labels.filter(other => other !== one).map(of);
        return hidden || one.scrollWidth > Math.ceil(box.width) + 1 || box.left < panel.left || box.right > panel.right
            || others.concat(heavy).some(other => !apart(box, other));
    }).map(one => one.textContent);
}).flat()"""
# Each conflict of the list opened: its leaf, how many labels are drawn there, and those that are cut.
EACH_LEAF = f"""async () => {{
    const cut = {CUT}, found = [];
    for (const entry of document.querySelectorAll('.todo li a')) {{
        const opened = new Promise(done => window.addEventListener('hashchange', done, {{once: true}}));
        const another = entry.hash !== location.hash;
        entry.click();
        if (another) await opened;
        const leaf = document.querySelector('.leaf.shown');
        found.push([leaf.querySelector('h3').innerText, leaf.querySelectorAll('.small .b').length, cut()]);
    }}
    return found;
}}"""


@pytest.mark.parametrize("name", ["sample", "long"])
def test_no_label_of_the_drawing_under_a_proof_is_cut(
    page: Page, boards: dict[str, str], tmp_path: Path, name: str
) -> None:
    """Cases of an hour in a narrow panel, and names as long as a hospital's own schedule may have."""
    address = boards.get(name)
    if address is None:
        long = tmp_path / "long.html"
        long.write_text(board_html(long_names()), encoding="utf-8")
        address = long.as_uri()
    page.goto(address)
    drawn = 0
    for width, height in ((1366, 768), (1280, 800), (800, 600)):
        page.set_viewport_size({"width": width, "height": height})
        for leaf, labels, cut in page.evaluate(EACH_LEAF):
            assert cut == [], (width, leaf)
            drawn += labels
    assert drawn
    assert any("needs one" in text for text in page.locator(".small p span").all_text_contents())


@pytest.mark.skipif(not THOROUGH, reason="the parts of a board are looked at on the sample; this takes half a minute")
def test_axe_finds_nothing_to_mend_on_a_heavy_day(page: Page, boards: dict[str, str]) -> None:
    page.goto(boards["heavy"])
    page.locator(".todo li a").first.click()
    assert faults(page) == []


def test_axe_finds_nothing_to_mend_when_filtered_with_tables_open(board: Page) -> None:
    board.keyboard.press("t")
    board.get_by_role("searchbox").fill("hip")
    assert seen(board, "a.case.off") > 0
    assert faults(board) == []


def test_without_the_script_every_leaf_is_open(browser: Browser, boards: dict[str, str]) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(boards["sample"] + f"#conflict={SHORT}")
    assert page.locator(".leaf:visible").count() > 50
    assert page.locator(".tools:visible").count() == 0
    context.close()


@pytest.mark.parametrize(
    ("day", "width", "height"), [("heavy", 1366, 768), ("sample", 1024, 768), ("sample", 768, 1024)]
)
def test_it_fits_the_screens_it_is_used_on(
    page: Page, boards: dict[str, str], day: str, width: int, height: int
) -> None:
    """How wide it is does not depend on how many cases there are."""
    page.set_viewport_size({"width": width, "height": height})
    page.goto(boards[day])
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    expect(page.locator(".todo li a").first).to_be_in_viewport()
    expect(page.locator("a.case").first).to_be_in_viewport()
    page.locator(".todo li a").first.click()
    expect(page.locator(".leaf.shown h3")).to_be_in_viewport()
    page.get_by_role("button", name="Close").click()
    expect(page.locator(".leaf.shown")).to_have_count(0)


def test_the_hours_of_a_12_hour_clock_do_not_run_into_each_other_on_a_small_screen(page: Page) -> None:
    plan = sample_day()
    page.set_viewport_size({"width": 320, "height": 900})
    page.set_content(board_html(replace(plan, settings=replace(plan.settings, clock=12))))
    boxes = page.evaluate("Array.from(document.querySelectorAll('.hours .tick'), one => one.getBoundingClientRect())")
    sides = [(box["left"], box["right"]) for box in boxes]
    assert len(sides) > 10
    assert all(right <= left + 1 for (_, right), (left, _) in pairwise(sides)), sides


def test_a_finger_hits_what_it_means(browser: Browser, boards: dict[str, str]) -> None:
    """Targets of at least 24 by 24 CSS pixels (WCAG 2.2, 2.5.8)."""
    context = browser.new_context(viewport={"width": 1024, "height": 768}, has_touch=True)
    page = context.new_page()
    page.goto(boards["sample"])
    page.locator(".todo li a").nth(2).tap()
    assert open_leaf(page) != ""
    small = page.evaluate(
        """() => Array.from(document.querySelectorAll('.tools button, .zoom button, a.case, .todo a, .kinds label'))
        .map(e => e.getBoundingClientRect()).filter(b => b.width && (b.width < 24 || b.height < 24)).length"""
    )
    context.close()
    assert small == 0


def test_it_prints_clean_pages(page: Page, boards: dict[str, str], tmp_path: Path) -> None:
    page.goto(boards["sample"])
    path = tmp_path / "board.pdf"
    page.pdf(path=path, prefer_css_page_size=True)
    pdf = pypdfium2.PdfDocument(path)
    pages = [one.get_textpage().get_text_range() for one in pdf]
    whole = "\n".join(pages)
    sizes = {(round(one.get_width()), round(one.get_height())) for one in pdf}
    pdf.close()
    assert len(pages) < 8
    assert all(wide > tall for wide, tall in sizes)
    assert "To decide" in pages[0]
    assert "Trays in trouble" in whole
    assert "Planning aid, not a record of sterility" in whole
    assert "Clear" not in whole


def test_the_coordinators_path_on_a_heavy_day(page: Page, boards: dict[str, str]) -> None:
    page.goto(boards["heavy"])
    whole = page.locator(".todo li").count()
    assert whole > 40
    page.keyboard.press("n")
    head = open_leaf(page)
    assert head
    expect(page.locator(".group.lit .tray").first).to_be_in_viewport()
    expect(page.locator(".leaf.shown")).to_contain_text("Proof")
    case = page.locator(".leaf.shown .links a").first
    number = case.inner_text()
    case.click()
    assert open_leaf(page) == f"Case {number}"
    page.get_by_role("searchbox").fill(number)
    assert 0 < seen(page, ".todo li") < whole
    assert seen(page, ".row.room") < 42


def test_names_like_markup_are_shown_and_never_run(page: Page, tmp_path: Path) -> None:
    path = tmp_path / "nasty.html"
    path.write_text(board_html(nasty_plan()), encoding="utf-8")
    page.on("dialog", lambda asked: pytest.fail(asked.message))
    page.goto(path.as_uri())
    page.keyboard.press("n")
    expect(page.locator(".leaf.shown")).to_contain_text(NASTY)
    page.get_by_role("searchbox").fill("onerror")
    expect(page.locator("#results a").first).to_contain_text(NASTY)
    assert page.locator("img").count() == 0
    page.locator("#results a").first.click()
    assert NASTY in open_leaf(page)
