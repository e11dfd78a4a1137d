"""Where ``.ci/run`` does not count the lines and branches that the tests reach.

To count them each line that runs is looked at, a library's too, and a test takes two or three times as long. So it
pauses in tests that take long and hardly reach what no other does: most of those that go through a browser, since
others ask the page directly, and those that try many inputs, plan many days, compare whole papers or only read the
source. It pauses as well while a workbook is read or written, for which openpyxl calls nothing of picklist.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import wraps
from importlib import import_module
from pathlib import Path
from pkgutil import walk_packages
from typing import ParamSpec, TypeVar

import pytest
from openpyxl.reader.excel import ExcelReader
from openpyxl.writer.excel import ExcelWriter

import picklist

Words = ParamSpec("Words")
Given = TypeVar("Given")

HERE = Path(__file__).parent
ASKED = "COVERAGE_PROCESS_START"  # in the environment, for each program that is started
PASSED_ON = "COVERAGE_PROCESS_CONFIG"
UNMEASURED = (
    "board/test_browser.py",
    "documents/test_changes_evening.py",
    "documents/test_one_ready_time.py",
    "documents/test_pages.py",
    "hard/test_extremes.py",
    "hard/test_fuzz.py",
    "inputs/test_flaws.py",
    "oracle/test_oracle.py",
    "outside/test_shops.py",
    "plan/test_same_bytes.py",
    "privacy/test_messages.py",
    "sample/test_generator.py",
    "sample/test_sample.py",
    "server/test_big_day.py",
    "server/test_browser.py",
    "server/test_every_screen.py",
    "server/test_keyboard.py",
    "server/test_odd_names.py",
    "server/test_two_windows.py",
    "server/test_whole_evening.py",
    "sets/test_allocate.py",
    "sets/test_independent_evenings.py",
    "sets/test_remedies.py",
    "sets/test_remedies_apart.py",
    "sets/test_remedies_of_sample.py",
    "tasks/test_unread_rows.py",
    "test_developers.py",
    "test_one_rule.py",
    "wording/test_engines.py",
    "wording/test_one_wording.py",
)
LIBRARY = ((ExcelReader, "read"), (ExcelWriter, "write_data"))


def is_left_out(item: pytest.Item) -> bool:
    """Whether something is measured in this run, and not in this test."""
    return ASKED in os.environ and item.path.relative_to(HERE).as_posix() in UNMEASURED


def load_all() -> None:
    """What is measured is loaded before a test begins: the lines that run when a module is loaded run once."""
    if ASKED in os.environ:
        for module in walk_packages(picklist.__path__, "picklist."):
            if module.name != "picklist.__main__":
                import_module(module.name)


@contextmanager
def nothing_measured() -> Iterator[None]:
    """Pause here, and in programs that are started meanwhile."""
    from coverage import Coverage

    running = Coverage.current()
    with pytest.MonkeyPatch.context() as patch:
        for name in (ASKED, PASSED_ON):
            patch.delenv(name, raising=False)
        if running:
            running.stop()
        try:
            yield
        finally:
            if running:
                running.start()


@contextmanager
def libraries_unmeasured() -> Iterator[None]:
    """Pause while a workbook is read or written."""
    with pytest.MonkeyPatch.context() as patch:
        for room, name in LIBRARY if ASKED in os.environ else ():
            patch.setattr(room, name, _unmeasured(getattr(room, name)))
        yield


def _unmeasured(work: Callable[Words, Given]) -> Callable[Words, Given]:
    """``work``, whose lines nobody looks at in its thread."""

    @wraps(work)
    def at_full_speed(*words: Words.args, **more: Words.kwargs) -> Given:
        looking = sys.gettrace()
        sys.settrace(None)
        try:
            return work(*words, **more)
        finally:
            sys.settrace(looking)

    return at_full_speed
