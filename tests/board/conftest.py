"""Pages for the board's tests, and the boards as files, made once."""

from __future__ import annotations

from collections.abc import Iterator
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


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    """A page of a small hospital screen that fails the test on any error or request."""
    context = browser.new_context(viewport=SCREEN)  # type: ignore[arg-type]
    context.set_default_timeout(LONG)
    made = context.new_page()
    wrong: list[str] = []
    made.on("pageerror", lambda error: wrong.append(str(error)))
    made.on("console", lambda said: wrong.append(said.text) if said.type == "error" else None)
    made.on("request", lambda asked: None if asked.url.startswith(("file:", "data:")) else wrong.append(asked.url))
    yield made
    context.close()
    assert wrong == []
