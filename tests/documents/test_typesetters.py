"""Sheets set in processes of their own: the same pages, whatever becomes of a process."""

from __future__ import annotations

import sys
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest

from picklist import own_process
from picklist.documents import typesetters
from picklist.documents.pages import Sheet, draw
from picklist.documents.typesetters import ENDED, draw_all
from picklist.documents.write_plan import write_plan
from tests.documents.findings import rich_plan
from tests.documents.sheets import all_views
from tests.documents.test_pages import sheet_of


@pytest.fixture
def started(monkeypatch: pytest.MonkeyPatch) -> list[typesetters._Typesetter]:
    """The processes that were started; even the least work is given to some here."""
    some: list[typesetters._Typesetter] = []
    start = typesetters._Typesetter.__init__

    def noted(one: typesetters._Typesetter) -> None:
        start(one)
        some.append(one)

    monkeypatch.setattr(typesetters, "WORTH_STARTING", 0)
    monkeypatch.setattr(typesetters._Typesetter, "__init__", noted)
    return some


def sheets() -> list[Sheet]:
    plan = rich_plan()
    views = all_views(plan)
    return [
        sheet_of(name, views[name], plan) for name in ("worklist", "labels", "pick-list-stopped", "pick-list-waiting")
    ]


def all_ended(started: list[typesetters._Typesetter]) -> bool:
    return all(one.process.poll() is not None for one in started)


def test_that_processes_give_the_pages_that_one_alone_gives(started: list[typesetters._Typesetter]) -> None:
    said: list[str] = []
    assert draw_all(sheets(), said.append, workers=2) == [draw(sheet) for sheet in sheets()]
    assert sorted(said) == sorted(sheet.file for sheet in sheets())
    assert len(started) == 2
    assert all_ended(started)


def test_that_the_pages_of_a_process_that_was_killed_are_set_all_the_same(
    started: list[typesetters._Typesetter], monkeypatch: pytest.MonkeyPatch
) -> None:
    set_one = typesetters._Typesetter.set

    def killed(one: typesetters._Typesetter, sheet: Sheet) -> bytes:
        if one is started[0]:
            one.process.kill()
        return set_one(one, sheet)

    monkeypatch.setattr(typesetters._Typesetter, "set", killed)
    notices: list[str] = []
    assert draw_all(sheets(), workers=2, notice=notices.append) == [draw(sheet) for sheet in sheets()]
    assert notices == [ENDED]
    assert all_ended(started)


def test_that_a_stop_by_hand_ends_the_processes_and_leaves_the_former_papers(
    started: list[typesetters._Typesetter], tmp_path: Path
) -> None:
    plan, out = rich_plan(), tmp_path / "out"
    out.mkdir()
    (out / ".picklist").touch()
    (out / "evening.pdf").write_bytes(b"former")

    def stop(_file: str, _n: int, _of: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_plan(plan, out, progress=stop)
    assert sorted(path.name for path in tmp_path.rglob("*")) == [".picklist", "evening.pdf", "out"]
    assert (out / "evening.pdf").read_bytes() == b"former"
    assert started
    assert all_ended(started)


def test_that_all_is_set_here_where_no_process_can_be_started(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(typesetters, "WORTH_STARTING", 0)
    monkeypatch.setattr(sys, "executable", None)
    assert draw_all(sheets()[:1]) == [draw(sheets()[0])]


class Disturbed(BytesIO):
    """A pipe without a buffer: each write is disturbed before it is done."""

    def write(self, message: Any) -> int:
        return super().write(memoryview(message)[:3])


def test_that_pages_arrive_whole_where_nothing_is_buffered_and_writes_are_disturbed() -> None:
    pipe = Disturbed()
    own_process.send(pipe, b"the pages of a list")
    pipe.seek(0)
    assert own_process.receive(pipe) == b"the pages of a list"
