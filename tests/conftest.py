"""What tests of several rooms share: one Chromium for the whole run."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, expect, sync_playwright

from tests.patience import LONG

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    path = next((found for name in NAMES if (found := shutil.which(name))), None)
    if path is None:
        pytest.skip("there is no Chromium on this machine")
    words = ["--disable-gpu", "--disable-background-networking"]
    words += ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
    expect.set_options(timeout=LONG)
    with sync_playwright() as playwright:
        running = playwright.chromium.launch(executable_path=path, args=words)
        yield running
        running.close()
