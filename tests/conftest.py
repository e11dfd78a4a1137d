"""What tests of several rooms share: one Chromium for the whole run; a sheet, a plan and a workbook made once each."""

from __future__ import annotations

import gc
import hashlib
import os
import shutil
import sqlite3
import sys
from collections.abc import Generator, Iterator
from contextlib import nullcontext, suppress
from functools import cache
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING

import pytest
from hypothesis import settings
from typer.main import get_command

from picklist.cli.command_line import SELDOM
from picklist.documents import pages, typesetters, write_plan
from picklist.documents.pages import Sheet
from picklist.evening import forms
from picklist.store import state
from picklist.tables import write
from picklist.upkeep import office_book
from tests.kept import FOLDER, in_outline, keep, kept, packed_once, planned_once
from tests.measuring import is_left_out, libraries_unmeasured, load_all, nothing_measured
from tests.patience import LONG, THOROUGH, tries

if TYPE_CHECKING:
    from playwright.sync_api import Browser

# Every program that a test starts would compile a thousand modules anew, which takes longer than most of what it does.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")

# A usual run tries the same examples each time, so that it fails for what was changed and never by chance.
settings.register_profile("picklist", deadline=None, max_examples=tries(100), derandomize=not THOROUGH)
settings.load_profile("picklist")


HERE = Path(__file__).parent


def pytest_configure(config: pytest.Config) -> None:
    """Every other worker collects from the end: in a fresh clone each then compiles half of the tests, not all."""
    gc.set_threshold(*SELDOM)  # nothing that is loaded now can be thrown away
    worker = os.environ.get("PYTEST_XDIST_WORKER", "gw0")
    if int(worker.removeprefix("gw")) % 2 and [Path(arg).resolve() for arg in config.args] == [HERE]:
        files = sorted(HERE.rglob("test_*.py"), reverse=True)
        config.args = [*map(str, files)]


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The workers of a run must agree on the order."""
    items.sort(key=lambda item: item.path)


def pytest_collection_finish() -> None:
    """What is loaded by now stays, and need not be searched for what can be thrown away; see also ``main``."""
    load_all()
    gc.freeze()


def pytest_unconfigure() -> None:
    """pytest searches all that is there five times over for what nobody awaited; after the first nothing is left."""
    gc.collect()
    gc.freeze()


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Generator[None, bool | None, bool | None]:
    """``.ci/run`` counts what a test reaches, but for some."""
    with nothing_measured() if is_left_out(item) else nullcontext():
        return (yield)


@pytest.fixture(scope="session", autouse=True)
def _libraries_unmeasured() -> Iterator[None]:
    with libraries_unmeasured():
        yield


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    from playwright.sync_api import expect, sync_playwright

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


typeset = pages.typeset


@pytest.fixture(scope="session", autouse=True)
def _sheets_typeset_once(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """The pages of a sheet that any test of this run had typeset, in whatever process, are taken as they are.

    Most of a build's time goes into them, and the same sheet gives the same bytes; the tests that hold
    this ask for ``typeset_afresh``. The key is all that goes into a page, templates and fonts among it.
    """
    base = tmp_path_factory.getbasetemp()
    folder = (base.parent if "PYTEST_XDIST_WORKER" in os.environ else base) / "kept"
    folder.mkdir(exist_ok=True)

    def known(sheet: Sheet, *, accessible_only: bool) -> bytes:
        key = repr((pages.sheet_digest(sheet), accessible_only))
        name = hashlib.sha256(key.encode()).hexdigest()
        return kept(name) or keep(name, typeset(sheet, accessible_only=accessible_only))

    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(FOLDER, str(folder))
        patch.setattr(pages, "typeset", known)
        patch.setattr(typesetters, "WORTH_STARTING", sys.maxsize)  # a process would know none of these pages
        yield


PRINT = {"documents", "examples", "hard", "oracle", "outside", "privacy", "sample"}  # the folders that look at pages


@pytest.fixture(scope="module", autouse=True)
def _sheets_in_outline(request: pytest.FixtureRequest, _sheets_typeset_once: None) -> Iterator[None]:
    """Where no test reads a printed page none is set, but in modules that are marked as ``printed``."""
    room = request.path.relative_to(HERE).parts[0]
    printed = room in PRINT or request.node.get_closest_marker("printed")
    with nullcontext() if printed else in_outline():
        yield


@pytest.fixture(scope="session", autouse=True)
def _days_planned_once(_sheets_typeset_once: None) -> Iterator[None]:
    """What commands and page plan is planned once in a run: the same site and request give the same plan.

    The tests of planning call ``make_plan`` themselves, and no test that is about its bytes goes this way.
    """
    from picklist.sets.remedies import side_by_side
    from picklist.tasks import build, why
    from picklist.upkeep import effect

    with pytest.MonkeyPatch.context() as patch:
        for room in (build, why, effect):
            patch.setattr(room, "make_plan", planned_once)
        patch.setattr(side_by_side, "WORTH_STARTING", sys.maxsize)  # both processors are at work already
        yield


@pytest.fixture(scope="session", autouse=True)
def _nothing_waits_for_the_disk() -> Iterator[None]:
    """A file counts as on the disk once it is written: no test pulls the plug of the machine, they kill programs."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "fsync", lambda _: None)
        patch.setattr(state, "ON_THE_DISK", "OFF")
        yield


@pytest.fixture(scope="session", autouse=True)
def _command_line_put_together_once() -> Iterator[None]:
    """Each run of a command in a test would put all commands together anew, which takes longer than most of them do."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("typer.testing._get_command", cache(get_command))
        yield


bring_up_to_date = state._bring_up_to_date


@pytest.fixture(scope="session", autouse=True)
def _state_made_once(_nothing_waits_for_the_disk: None) -> Iterator[None]:
    """A new state file is a copy of an empty one: to go through all its migrations takes longer than most tests.

    Those that look at migrations start from a file that is older, or know fewer migrations.
    """
    template, one_at_a_time = sqlite3.connect(":memory:", check_same_thread=False), Lock()
    migrations = state.MIGRATIONS
    template.row_factory = sqlite3.Row
    bring_up_to_date(state.StateFile(Path("template"), template))

    def give_up(status: int, _left: int, _of: int) -> None:
        if status in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
            raise sqlite3.OperationalError

    def copied(opened: state.StateFile) -> None:
        with one_at_a_time, suppress(OSError, sqlite3.Error):  # what is wrong is said in the next line
            if vars(state)["MIGRATIONS"] is migrations and opened.path.stat().st_size == 0:
                template.backup(opened.connection, progress=give_up)
        bring_up_to_date(opened)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(state, "_bring_up_to_date", copied)
        yield
    template.close()


PACKED = tuple(
    (room, name, getattr(room, name))
    for room, name in (
        (write, "book_bytes"),
        (forms, "form_bytes"),
        (office_book, "office_bytes"),
        (write_plan, "workbook_bytes"),
    )
)


@pytest.fixture(scope="session", autouse=True)
def _books_packed_once(_sheets_typeset_once: None) -> Iterator[None]:
    """The workbook of the same rows is packed once: a test mostly changes a cell of one among six of them.

    So are the form of the same carts, an office's workbook of the same cards, and that of the same plan.

    The tests that hold that the same rows give the same bytes ask for ``packed_afresh``.
    """
    with pytest.MonkeyPatch.context() as patch:
        for room, name, pack in PACKED:
            patch.setattr(room, name, packed_once(pack))
        yield


@pytest.fixture
def packed_afresh(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every workbook is packed, however often it was before."""
    for room, name, pack in PACKED:
        monkeypatch.setattr(room, name, pack)


@pytest.fixture
def typeset_afresh(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every sheet goes through the typesetter, however often it was before."""
    monkeypatch.setattr(pages, "typeset", typeset)
