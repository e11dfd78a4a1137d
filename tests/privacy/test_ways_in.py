"""Texts that people type, names of files, and what a page or a change leaves behind."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import tempfile
import time
from datetime import datetime
from http.client import HTTPConnection
from pathlib import Path
from urllib.parse import urlsplit

import pytest
import uvicorn

from picklist.server.desk import TRAY, clear_left_behind
from picklist.server.run import Ending
from picklist.tables.files import forget_former, keep_former, kept_folder
from picklist.tables.private import Kind, looks_private
from picklist.tasks.cart_reports import tell_put_back
from picklist.tasks.decisions import Said, tell_decision
from picklist.tasks.errors import WrongUse
from picklist.tasks.offices import ApprovedBy, approve_cards, undo_cards
from picklist.tasks.take_file import plain_name
from tests.patience import PATIENCE, tries

NOW = datetime(2026, 11, 25, 18, 0)  # noqa: DTZ001 (a wall time)
PERSON = "WRENFIELD, Oda F72"


def test_that_no_decision_names_a_patient(tmp_path: Path) -> None:
    for said in ({"decided": PERSON}, {"told": PERSON}, {"by": PERSON}):
        one = Said(**({"about": "x", "decided": "wait", "told": "", "by": "mk"} | said))
        with pytest.raises(WrongUse, match="nothing was kept") as refused:
            tell_decision(tmp_path, NOW.date(), one, NOW)
        assert "WRENFIELD" not in str(refused.value)
    with pytest.raises(WrongUse, match="nothing was kept"):
        tell_put_back(tmp_path, NOW.date(), [1], PERSON, NOW)


def test_that_no_reason_of_an_approval_names_a_patient(tmp_path: Path) -> None:
    approved = ApprovedBy(name="mk", reason=f"as for {PERSON}", effective=NOW.date())
    with pytest.raises(WrongUse, match="nothing was kept"):
        approve_cards(tmp_path, "P1", approved, NOW)
    with pytest.raises(WrongUse, match="nothing was kept"):
        undo_cards(tmp_path, 1, approved, NOW)


@pytest.mark.parametrize("name", [f"{PERSON}.xlsx", "MRN 4829130.csv", "list 4829130.csv", "born 1952-03-04.xlsx"])
def test_that_a_file_named_for_a_patient_is_refused_without_its_name(name: str) -> None:
    with pytest.raises(WrongUse) as refused:
        plain_name(name)
    assert name.rpartition(".")[0] not in str(refused.value)


@pytest.mark.parametrize(
    "name", ["Schedule", "schedule 2026-11-26", "export_20261126183000", "Cards Dr. Quill v2", "north-2024-01-31 (1)"]
)
def test_that_a_file_may_be_named_for_the_day_it_was_written(name: str) -> None:
    assert not looks_private(name, kind=Kind.FILE_NAME)


def test_that_former_files_go_after_the_days_of_the_setting(tmp_path: Path) -> None:
    site = tmp_path / "site"
    site.mkdir()
    old, new = (keep_former(site, name, b"x", NOW) for name in ("old.xlsx", "new.xlsx"))
    other = kept_folder(site) / "read me.txt"
    other.write_text("not ours")
    for path in (old, other):
        os.utime(path, (time.time() - 40 * 86400,) * 2)
    assert forget_former(site, 0) == 0
    assert forget_former(site, 30) == 1
    assert sorted(path.name for path in kept_folder(site).iterdir()) == [new.name, other.name]
    assert kept_folder(site).stat().st_mode & 0o077 == 0


def test_that_what_came_in_at_a_killed_run_goes_at_the_next(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    with subprocess.Popen([sys.executable, "-c", ""]) as gone:
        gone.wait()
    dead, alive = tmp_path / f"{TRAY}{gone.pid}-x", tmp_path / f"{TRAY}{os.getpid()}-x"
    for tray in (dead, alive):
        tray.mkdir()
        (tray / "in-1").write_text(PERSON)
    clear_left_behind()
    assert [path.name for path in tmp_path.iterdir()] == [alive.name]


# A run in the background ignores signals of the terminal, and its children would too.
SERVER = """
import signal, sys
signal.signal(signal.SIGINT, signal.default_int_handler)
if hasattr(signal, "SIGHUP"):
    signal.signal(signal.SIGHUP, signal.SIG_DFL)
from datetime import datetime
from http.client import HTTPConnection
from pathlib import Path
from picklist.server.desk import Desk
from picklist.server.run import serve
desk = Desk(Path(sys.argv[1]), Path(sys.argv[1]) / "out", datetime.now)
desk.new_file().write_text("a patient")
serve(desk, 0, lambda line: print(line, flush=True), browser=False)
"""


def answers(link: str) -> bool:
    """Whether the page listens and answers."""
    parts = urlsplit(link)
    line = HTTPConnection(parts.netloc, timeout=PATIENCE)
    try:
        line.request("GET", f"{parts.path}?{parts.query}")
        return line.getresponse().status == 200
    finally:
        line.close()


@pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")
@pytest.mark.parametrize(
    ("number", "serving"),
    [(signal.SIGTERM, True), (signal.SIGHUP, False), (signal.SIGHUP, True), (signal.SIGINT, True)][: tries(4, 2)],
)
def test_that_an_upload_does_not_survive_the_page(tmp_path: Path, number: signal.Signals, *, serving: bool) -> None:
    """Whether the page is ended while it answers, or as soon as it has said its address."""
    site, scratch = tmp_path / "site", tmp_path / "scratch"
    site.mkdir()
    scratch.mkdir()
    words = [sys.executable, "-c", SERVER, str(site)]
    with subprocess.Popen(words, stdout=subprocess.PIPE, env=os.environ | {"TMPDIR": str(scratch)}) as page:
        assert page.stdout is not None
        said = [page.stdout.readline().decode()]
        while "Ctrl+C" not in said[-1]:
            assert said[-1], "it ended"
            said.append(page.stdout.readline().decode())
        assert list(scratch.glob(f"{TRAY}*/in-1"))
        assert not serving or answers(next(line for line in said if "http://" in line).strip())
        page.send_signal(number)
        try:
            page.wait(timeout=PATIENCE)
        finally:
            page.kill()
    assert list(scratch.glob(f"{TRAY}*")) == []


def test_that_a_window_closed_in_the_middle_of_an_answer_ends_the_page_once_that_is_given() -> None:
    """An exit raised there would end that answer alone, and the page would stay with what came in."""
    ending, given = Ending(), list[str]()

    class Server(uvicorn.Server):
        def run(self, sockets: list[socket.socket] | None = None) -> None:
            ending.hear(signal.SIGHUP, None)
            given.append("the answer")
            assert self.should_exit
            assert sockets == [listener]

    with socket.socket() as listener, pytest.raises(SystemExit) as ended:
        ending.run(Server(uvicorn.Config("none")), listener)
    assert (ended.value.code, given) == (128 + signal.SIGHUP, ["the answer"])
    with pytest.raises(SystemExit):  # before and after it serves there is nothing to wait for
        ending.hear(signal.SIGTERM, None)
