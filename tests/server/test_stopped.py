"""The page is ended in the middle of its work: what is there afterwards is whole, and the next run goes on."""

from __future__ import annotations

import hashlib
import json
import os
import re
import signal
import subprocess
import sys
import time
from http.client import HTTPConnection
from pathlib import Path
from urllib.parse import urlencode, urlsplit

import pytest

from picklist.evening.keep_plans import latest_revision
from picklist.server.desk import Desk
from picklist.store.state import open_state, state_path
from picklist.tables.write import write_tables
from tests.inputs.folders import sound_rows
from tests.patience import PATIENCE, THOROUGH
from tests.server.site import LAST_DAY, build, desk_of

pytestmark = pytest.mark.skipif(os.name != "posix", reason="ends a process by a signal")


# The page, whose work stands still once it has come to a stage, and goes on while the program ends.
PAGE = """
import sys, threading
from picklist.cli import main
from picklist.server import desk
stage, ended, build_day = sys.argv.pop(1), threading.Event(), desk.build_day
def build(wanted, progress, *more):
    def told(said):
        progress(said)
        if stage and said.startswith(stage):
            print("has come to", stage, flush=True)
            ended.wait()
    return build_day(wanted, told, *more)
desk.build_day = build
try:
    main()
finally:
    ended.set()
"""


class Browser:
    """A browser of one page that runs in a process of its own."""

    def __init__(self, folder: Path, stage: str = "") -> None:
        words = [sys.executable, "-c", PAGE, stage]
        words += ["open", str(folder), "--no-browser", "--now", "2026-11-25 18:00"]
        self.process = subprocess.Popen(
            words, stdout=subprocess.PIPE, text=True, env={**os.environ, "PYTHONUNBUFFERED": "1"}
        )
        assert self.process.stdout is not None
        link = next(line for line in self.process.stdout if "http://" in line).strip()
        parts = urlsplit(link)
        self.home = parts.path.removesuffix("/start")
        self._host = parts.netloc
        status, headers, _ = self._send("GET", f"{parts.path}?{parts.query}", {}, "")
        assert status == 200
        self._cookie = headers["set-cookie"].split(";")[0]

    def _send(self, method: str, path: str, headers: dict[str, str], body: str) -> tuple[int, dict[str, str], str]:
        line = HTTPConnection(self._host, timeout=PATIENCE)
        try:
            line.request(method, path, body, headers)
            answer = line.getresponse()
            return answer.status, {k.lower(): v for k, v in answer.getheaders()}, answer.read().decode()
        finally:
            line.close()

    def get(self, page: str) -> str:
        own = {"cookie": self._cookie, "sec-fetch-site": "same-origin"}
        return self._send("GET", f"{self.home}/{page}", own, "")[2]

    def build(self) -> str:
        """Press the button; the number of the work."""
        found = re.search(r'name="token" value="([^"]+)"', self.get(""))
        assert found
        own = {
            "cookie": self._cookie,
            "sec-fetch-site": "same-origin",
            "content-type": "application/x-www-form-urlencoded",
        }
        status, headers, _ = self._send("POST", f"{self.home}/build", own, urlencode({"token": found[1]}))
        assert status == 303
        return urlsplit(headers["location"]).path.rsplit("/", 1)[1]

    def wait_for_stage(self) -> None:
        """Until the work has come to the stage of this page."""
        assert self.process.stdout is not None
        assert any("has come to" in line for line in self.process.stdout)

    def end(self, how: signal.Signals) -> None:
        self.process.send_signal(how)
        self.process.communicate(timeout=PATIENCE)


def contents(folder: Path) -> dict[str, str]:
    """Every file below a folder with a digest of what is in it."""
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def revision(desk: Desk) -> int | None:
    with open_state(state_path(desk.folder)) as state:
        return latest_revision(state, LAST_DAY)


@pytest.fixture
def two_cases(tmp_path: Path) -> Desk:
    """The smallest of sites with its papers: what is whole or not does not depend on how many cases there are."""
    write_tables(tmp_path / "evening" / "north", sound_rows())
    desk = desk_of(tmp_path / "evening" / "north")
    build(desk)
    return desk


BOTH = [(stage, how) for stage in ("Giving out sets", "Printing") for how in (signal.SIGKILL, signal.SIGINT)]


@pytest.mark.parametrize(("stage", "how"), BOTH if THOROUGH else BOTH[::3])
def test_a_build_that_is_cut_off_leaves_the_former_papers_and_the_next_one_goes_on(
    two_cases: Desk, stage: str, how: signal.Signals
) -> None:
    papers, inputs = contents(two_cases.out), contents(two_cases.folder)
    page = Browser(two_cases.folder, stage)
    try:
        page.build()
        page.wait_for_stage()
    finally:
        page.end(how)
    assert contents(two_cases.out) == papers
    assert contents(two_cases.folder) == inputs
    assert revision(two_cases) == 1
    again = desk_of(two_cases.folder)
    build(again)
    assert revision(again) == 2
    plan = again.plan()
    assert plan is not None
    assert plan.revision == 2
    beside = {
        path.name for path in two_cases.folder.parent.iterdir() if not path.name.startswith(two_cases.folder.name)
    }
    assert not beside, "a half-written folder lies about"


def test_two_browsers_that_build_at_once_get_one_revision(two_cases: Desk) -> None:
    page = Browser(two_cases.folder)
    try:
        works = {page.build(), page.build(), page.build()}
        assert len(works) == 1
        [work] = works
        ends = time.monotonic() + PATIENCE
        while json.loads(page.get(f"work/{work}/stage"))["running"] and time.monotonic() < ends:
            time.sleep(0.05)
        assert "Carts for" in page.get("")
    finally:
        page.end(signal.SIGINT)
    assert revision(two_cases) == 2
