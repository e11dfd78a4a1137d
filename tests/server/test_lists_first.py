"""The page shows the lists as soon as they are handed out, and the rest as it comes."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path
from threading import Event

import pytest

from picklist.plan import make_plan
from picklist.server import desk as desk_module
from picklist.server.desk import Desk
from picklist.tasks import build, hand_out
from picklist.tasks.build import Built, Wanted, build_day
from picklist.tasks.errors import WrongUse
from picklist.wording.say_remedies import COMING, PAPERS_COMING
from tests.patience import PATIENCE
from tests.server.site import DOOR, at, client_of, desk_of, ended, work_begun
from tests.tasks.small_folder import write_folder

THREE_FOR_TWO_SETS = (
    "M1,2026-11-26,OR 1,07:30,60,S1,P1,none,planned",
    "M2,2026-11-26,OR 2,08:00,60,S2,P1,none,planned",
    "M3,2026-11-26,OR 3,08:30,60,S3,P1,none,planned",
)
CHANGED = "Changed since these lists were built:"


class Hold:
    """A build that stands still while it looks for remedies, until it may go on or is to fail."""

    def __init__(self) -> None:
        self.reached, self.go_on, self.fails = Event(), Event(), ""

    def build(self, wanted: Wanted, progress: Callable[[str], None], handed_out: Callable[[Built], None]) -> Built:
        def told(step: str) -> None:
            progress(step)
            if step == "Looking for remedies":
                self.reached.set()
                assert self.go_on.wait(PATIENCE)
                if self.fails:
                    raise WrongUse(self.fails)

        return build_day(wanted, told, handed_out)


@pytest.fixture
def hold(monkeypatch: pytest.MonkeyPatch) -> Iterator[Hold]:
    one = Hold()
    monkeypatch.setattr(build, "make_plan", make_plan)
    monkeypatch.setattr(hand_out, "WORTH_IT", 1)
    monkeypatch.setattr(desk_module, "build_day", one.build)
    yield one
    one.go_on.set()


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return desk_of(write_folder(tmp_path / "north", *THREE_FOR_TWO_SETS))


def test_the_page_goes_on_to_the_lists_while_remedies_are_sought_and_shows_the_rest_when_it_is_there(
    desk: Desk, hold: Hold
) -> None:
    client = client_of(desk)
    location = client.post(at("build"), data={"token": DOOR.token}).headers["location"]
    work = work_begun(desk, location)
    assert hold.reached.wait(PATIENCE)
    stage = client.get(at(f"work/{work.id}/stage")).json()
    assert (stage["stage"], stage["running"], stage["first"]) == ("Looking for remedies", True, True)
    assert client.get(location).headers["location"] == at(), "the window need not wait for remedies"
    tonight, papers, board = (client.get(at(page)).text for page in ("", "papers", "board"))
    [frame, *_] = re.findall(r"board/page\?of=\w+", board)
    assert COMING in tonight
    assert "Remedies are still being sought." in tonight
    assert "Building the lists" in tonight
    assert PAPERS_COMING in papers
    assert "Pick list M3, PDF" in papers
    assert CHANGED not in tonight
    sets = desk.folder / "Sets.csv"
    sets.write_text(sets.read_text(encoding="utf-8").replace("A-1-2", "A-1-3"), encoding="utf-8")
    again = client.post(at("build"), data={"token": DOOR.token, "day": "2026-11-26"}).headers["location"]
    assert "no other build was started" in client.get(again).text, "with the new place of a set, or another day"
    before = client.get(at("version")).json()
    hold.go_on.set()
    ended(work)
    assert client.get(at("version")).json() != before, "windows look again"
    tonight = client.get(at()).text
    assert f"{CHANGED}</strong> Sets.csv" in tonight, "saved when the folder was read already"
    assert COMING not in tonight
    assert "still being sought" not in tonight
    assert "<h3>Remedies</h3>" in tonight
    assert PAPERS_COMING not in client.get(at("papers")).text
    assert frame not in client.get(at("board")).text, "the frame of the board looks again too"


def test_a_build_that_fails_after_its_lists_were_handed_out_is_not_silent(desk: Desk, hold: Hold) -> None:
    hold.fails = "the disk is full"
    client = client_of(desk)
    work = work_begun(desk, client.post(at("build"), data={"token": DOOR.token}).headers["location"])
    assert hold.reached.wait(PATIENCE)
    hold.go_on.set()
    ended(work)
    assert client.get(at(f"work/{work.id}/stage")).json()["refused"]
    assert "the disk is full" in client.get(at(f"work/{work.id}")).text
    assert COMING in client.get(at()).text, "it says what to do: build again"
