"""Pages for the board's tests, and the boards as files, made once."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from picklist.documents.board.page import board_html
from tests.board.days import heavy_day, sample_day
from tests.patience import LONG

SCREEN = {"width": 1366, "height": 768}


@pytest.fixture(scope="session")
def boards(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """The address of each board, as of a file share."""
    folder = tmp_path_factory.mktemp("boards")
    made = {}
    for name, plan in (("sample", sample_day()), ("heavy", heavy_day())):
        path: Path = folder / f"{name}.html"
        path.write_text(board_html(plan), encoding="utf-8")
        made[name] = path.as_uri()
    return made


AS_OPENED = """() => {
    const press = name => document.getElementById(name).click();
    press("clear");
    document.getElementById("letters").checked = true;
    document.querySelectorAll(".facts details").forEach(one => { one.open = false; });
    history.replaceState(null, "", location.pathname);
    window.dispatchEvent(new HashChangeEvent("hashchange"));
    document.querySelector("a.case").focus();
    document.activeElement.blur();
    press("fit");
    document.querySelector(".pane").scrollTop = 0;
    scrollTo(0, 0);
}"""


@contextmanager
def looked_after(browser: Browser) -> Iterator[tuple[Page, list[str]]]:
    """A page of a small hospital screen, and what went wrong on it: any error or request."""
    context = browser.new_context(viewport=SCREEN)  # type: ignore[arg-type]
    context.set_default_timeout(LONG)
    made = context.new_page()
    wrong: list[str] = []
    made.on("pageerror", lambda error: wrong.append(str(error)))
    made.on("console", lambda said: wrong.append(said.text) if said.type == "error" else None)
    made.on("request", lambda asked: None if asked.url.startswith(("file:", "data:")) else wrong.append(asked.url))
    yield made, wrong
    context.close()


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    """A fresh page that fails the test on any error or request."""
    with looked_after(browser) as (made, wrong):
        yield made
        assert wrong == []


@pytest.fixture(scope="session")
def left_open(browser: Browser, boards: dict[str, str]) -> Iterator[tuple[Page, list[str]]]:
    """The sample's board, which stays open for many tests: to open it takes longer than what most do on it."""
    with looked_after(browser) as (made, wrong):
        made.goto(boards["sample"])
        yield made, wrong


@pytest.fixture
def board(left_open: tuple[Page, list[str]]) -> Iterator[Page]:
    """The sample's board as it is when it has just been opened; fails the test on any error or request."""
    made, wrong = left_open
    made.emulate_media(color_scheme="light")
    made.set_viewport_size(SCREEN)  # type: ignore[arg-type]
    made.evaluate(AS_OPENED)
    wrong.clear()
    yield made
    assert wrong == []
