"""A page that is really served, in a real Chromium, and what several tests do on it."""

from __future__ import annotations

import io
import re
import secrets
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache
from importlib import resources
from pathlib import Path
from threading import Thread
from typing import Any

import openpyxl
from playwright.sync_api import Browser, BrowserContext, Locator, Page, Response, expect

from picklist.server.desk import Desk
from picklist.server.front_door import FrontDoor, new_door
from picklist.server.run import listen, make_server
from picklist.server.work import LongTask
from tests.patience import LONG
from tests.server.office_book import filled
from tests.server.site import work_begun

Opening = Callable[[Desk], Page]
AXE = resources.files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8")
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
CONTRAST = "color-contrast"
# axe takes most of its time for the contrast of each text. One text of each look stands for all that look so.
CHECK = """async (how) => {
    const looks = new Map(), first = new Map();
    const look = one => {
        if (!one) return "";
        if (!looks.has(one)) {
            const of = getComputedStyle(one);
            const own = [of.color, of.backgroundColor, of.backgroundImage, of.opacity, of.fontSize, of.fontWeight];
            looks.set(one, [look(one.parentElement), ...own].join());
        }
        return looks.get(one);
    };
    const text = part => part.nodeType === Node.TEXT_NODE && part.data.trim();
    for (const one of document.body.querySelectorAll("*")) {
        const says = one.matches("input, select, textarea") || [...one.childNodes].some(text);
        if (says && one.checkVisibility() && !first.has(look(one))) first.set(look(one), one);
    }
    const found = await axe.run(document, {...how, rules: {"color-contrast": {enabled: false}}});
    const colours = await axe.run({include: [...first.values()]}, {...how, runOnly: ["color-contrast"]});
    found.violations.push(...colours.violations);
    return found;
}"""


@contextmanager
def served(desk: Desk) -> Iterator[FrontDoor]:
    """The door of a page that is really served on this computer."""
    listener = listen(0)
    door = new_door(listener.getsockname()[1], lambda: secrets.token_urlsafe(16))
    server = make_server(desk, door)
    thread = Thread(target=server.run, kwargs={"sockets": [listener]}, daemon=True)
    thread.start()
    try:
        yield door
    finally:
        server.should_exit = True
        thread.join(10)
        listener.close()
        desk.clear()


@cache
def windows(browser: Browser) -> BrowserContext:
    """Where all windows of a run are opened; to begin anew for each test takes half as long again."""
    # What turns while one waits is drawn sixty times a second, which takes a processor of its own in a test.
    context = browser.new_context(viewport={"width": 1366, "height": 768}, reduced_motion="reduce")
    context.set_default_timeout(LONG)
    return context


@contextmanager
def opening(browser: Browser) -> Iterator[Opening]:
    """Opens the page of a desk as the start file does; fails on any error the browser reports.

    That a form was refused the browser calls an error too; it is none.
    """
    context = windows(browser)
    closing, wrong = [], list[str]()

    def open_page(desk: Desk) -> Page:
        place = served(desk)
        closing.append(place)
        page = context.new_page()
        page.on("pageerror", lambda error: wrong.append(str(error)))
        page.on("console", lambda said: wrong.append(said.text) if said.type == "error" else None)
        page.goto(place.__enter__().start_link)
        page.wait_for_url(re.compile(r"/$"))
        return page

    try:
        yield open_page
    finally:
        for page in context.pages:
            page.close()
        for place in closing:
            place.__exit__(None, None, None)
    assert [said for said in wrong if "status of 422" not in said] == []


def press_build(page: Page, desk: Desk) -> LongTask:
    """Press the button that builds; the work that it began."""

    def is_answer(answer: Response) -> bool:
        return answer.request.method == "POST"

    with page.expect_response(is_answer) as pressed:
        page.get_by_role("button", name="Build the lists").click()
    return work_begun(desk, pressed.value.headers["location"])


def wrong_schedule(folder: Path) -> bytes:
    """The schedule with a procedure mistyped and a time that is none."""
    book = openpyxl.load_workbook(folder / "schedule.xlsx")
    sheet = book["Schedule"]
    heads = {head.value: number for number, head in enumerate(sheet[1], start=1)}
    sheet.cell(8, heads["procedures"]).value = "GEN-CHOLO"
    sheet.cell(9, heads["start"]).value = "half past nine"
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def faults(page: Page, only: tuple[str, ...] = (), *, each_text: bool = False) -> list[str]:
    """What the accessibility checker finds, by these rules only or by all; the board in its frame has its own tests.

    For its contrast it looks at one text of each look, or at ``each_text``.
    """
    expect(page.locator("[data-work]")).to_have_count(0)
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE)
    one_of_each_look = not each_text and (not only or CONTRAST in only)
    rules = [rule for rule in only or RULES if not (one_of_each_look and rule == CONTRAST)]
    how = {"runOnly": rules, "iframes": False, "resultTypes": ["violations"]}
    found = page.evaluate(CHECK if one_of_each_look else "how => axe.run(document, how)", how)
    assert only or len(found["passes"]) > 20
    return [f"{v['id']}: {n['target']} {n['failureSummary']}" for v in found["violations"] for n in v["nodes"][:3]]


def go_to(page: Page, name: str) -> None:
    """Open a page by its link in the head, and wait until it is there."""
    page.get_by_role("link", name=name, exact=True).click()
    expect(page.get_by_role("link", name=name, exact=True)).to_have_attribute("aria-current", "page")
    page.wait_for_load_state("load")


def send_back_mistyped(page: Page, book_in: Path, **office: Any) -> Locator:
    """Get an office's workbook, fill in a quantity that is no number, and compare it: the row that tells of it.

    A page names the place and the nearest value, never what a cell holds.
    """
    page.get_by_label("Send a workbook to").select_option(**office)
    with page.expect_download() as sending:
        page.get_by_role("button", name="Get the workbook").click()
    book = book_in / sending.value.suggested_filename
    sending.value.save_as(book)
    book.write_bytes(filled(book.read_bytes(), open="two or so"))
    page.get_by_label("File").set_input_files(book)
    page.get_by_role("button", name="Compare").click()
    return page.get_by_role("row").filter(has_text="(Open)")


def marked_notes(page: Page) -> list[str]:
    """The notes in the cells of the workbook that goes back to the office."""
    with page.expect_download() as returning:
        page.get_by_role("link", name="Get the marked workbook").click()
    marked = openpyxl.load_workbook(io.BytesIO(Path(returning.value.path()).read_bytes()))
    return [cell.comment.text for sheet in marked for line in sheet.iter_rows() for cell in line if cell.comment]
