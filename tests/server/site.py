"""The page over a small evening: its desk, its browser, and work that is waited for."""

from __future__ import annotations

import re
import shutil
import warnings
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from picklist.server.app import make_app
from picklist.server.desk import Desk
from picklist.server.front_door import FrontDoor
from picklist.server.work import LongTask
from tests import small_hospital
from tests.kept import folder_once
from tests.patience import PATIENCE

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # newer versions ask for another client library; this one serves as well
    from starlette.testclient import TestClient

HOSPITAL = small_hospital.HOSPITAL
LAST_DAY = small_hospital.LAST_DAY
NOW = datetime(2026, 11, 25, 18, 0)  # noqa: DTZ001 - the site's wall time
PORT = 8123
DOOR = FrontDoor(port=PORT, base="/base-of-this-run", key="start-key", session="session-word", token="form-token")


def desk_of(folder: Path) -> Desk:
    return Desk(folder, folder.with_name(f"{folder.name} papers"), lambda: NOW)


def client_of(desk: Desk, *, inside: bool = True) -> TestClient:
    """A browser of this computer's user, after or before the start link."""
    client = TestClient(
        make_app(desk, DOOR), base_url=f"http://127.0.0.1:{PORT}", follow_redirects=False, raise_server_exceptions=True
    )
    if inside:
        client.cookies.set(DOOR.cookie, DOOR.session, path=DOOR.base)
        client.headers["sec-fetch-site"] = "same-origin"
    return client


def at(page: str = "") -> str:
    return f"{DOOR.base}/{page}"


def work_begun(desk: Desk, location: str) -> LongTask:
    """The work that an answer leads to."""
    found = re.search(r"/work/(\d+)$", location)
    assert found, location
    work = desk.workshop.find(found[1])
    assert work is not None
    return work


def work_of(desk: Desk, location: str) -> LongTask:
    """The finished work that an answer leads to."""
    return ended(work_begun(desk, location))


def ended(work: LongTask) -> LongTask:
    """A piece of work once it has come to its end, however long this machine takes."""
    assert work.done.wait(PATIENCE), f"still at: {work.stage}"
    return work


def build(desk: Desk) -> None:
    """Build the lists, as the button does."""
    work = ended(desk.build(None, {}))
    assert not work.refused, work.refused


def changed_once(desk: Desk, name: str, change: Callable[[Desk], None]) -> Desk:
    """The desk after a change that is made once in a run, on a copy of all that lies around the folder."""
    around = desk.folder.parent

    def make(base: Path) -> None:
        shutil.copytree(around, base)
        change(desk_of(base / desk.folder.name))

    made = folder_once(name, make)
    shutil.rmtree(around)
    shutil.copytree(made, around)
    return desk_of(desk.folder)
