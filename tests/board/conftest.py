"""A Chromium for the page tests, and the boards as files, made once."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

from picklist.documents.board import board_html
from tests.board.days import heavy_day, sample_day

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
SCREEN = {"width": 1366, "height": 768}


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    path = next((found for name in NAMES if (found := shutil.which(name))), None)
    if path is None:
        pytest.skip("there is no Chromium on this machine")
    words = ["--disable-gpu", "--disable-background-networking"]
    words += ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
    with sync_playwright() as playwright:
        running = playwright.chromium.launch(executable_path=path, args=words)
        yield running
        running.close()


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


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    """A page of a small hospital screen that fails the test on any error or request."""
    context = browser.new_context(viewport=SCREEN)  # type: ignore[arg-type]
    made = context.new_page()
    wrong: list[str] = []
    made.on("pageerror", lambda error: wrong.append(str(error)))
    made.on("console", lambda said: wrong.append(said.text) if said.type == "error" else None)
    made.on("request", lambda asked: None if asked.url.startswith(("file:", "data:")) else wrong.append(asked.url))
    yield made
    context.close()
    assert wrong == []
