"""Pick lists are set while remedies are sought, once, and as they would be afterwards."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from pathlib import Path
from threading import enumerate as running_threads

import pytest

from picklist.documents import set_ahead, set_pages
from picklist.documents.pages import Sheet
from picklist.documents.typesetters import draw_all
from picklist.plan import make_plan
from picklist.tasks import build, progress
from picklist.tasks.build import Built, Wanted, build_day
from picklist.tasks.progress import Report
from tests.tasks.small_folder import DAY, EVENING, THREE_FOR_TWO_SETS, write_folder


@pytest.fixture
def ahead(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The files that were set while a plan was made; the same are not set a second time."""
    files: list[str] = []

    def noted(sheets: Sequence[Sheet], *rest: object, **more: object) -> list[bytes]:
        files.extend(sheet.file for sheet in sheets)
        return draw_all(sheets, *rest, **more)  # type: ignore[arg-type]

    def no_list(sheets: Sequence[Sheet], *rest: object, **more: object) -> list[bytes]:
        assert not [sheet.file for sheet in sheets if sheet.template == "pick-list"]
        return draw_all(sheets, *rest, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(build, "make_plan", make_plan)
    monkeypatch.setattr(set_ahead, "draw_all", noted)
    monkeypatch.setattr(set_pages, "draw_all", no_list)
    return files


def built(folder: Path, minutes: int = 0, says: list[str] | None = None) -> Built:
    wanted = Wanted(folder=folder, out=folder.parent / "out", now=EVENING + timedelta(minutes=minutes), day=DAY)
    return build_day(wanted, (says if says is not None else []).append)


def test_that_the_lists_that_changed_are_set_before_remedies_are_there(tmp_path: Path, ahead: list[str]) -> None:
    says: list[str] = []
    folder = write_folder(tmp_path / "site", *THREE_FOR_TWO_SETS)
    first = built(folder, says=says)
    assert first.plan is not None
    assert first.plan.conflicts
    assert "Looking for remedies" in says
    assert sorted(ahead) == [f"pick-lists/OR {n} {at} M{n}.pdf" for n, at in ((1, "0730"), (2, "0800"), (3, "0830"))]
    assert all((tmp_path / "out" / file).read_bytes().startswith(b"%PDF") for file in ahead)
    ahead.clear()
    write_folder(folder, *THREE_FOR_TWO_SETS[:2], THREE_FOR_TWO_SETS[2].replace("08:30", "09:30"))
    second = built(folder, 30)
    assert second.written is not None
    assert second.written.drawn == ("M3",)
    assert sorted(ahead) == ["changes.pdf", "labels-new.pdf", "pick-lists/OR 3 0930 M3.pdf"]


def test_that_a_stop_while_remedies_are_sought_leaves_the_former_papers_and_no_work(
    tmp_path: Path, ahead: list[str]
) -> None:
    folder, out = write_folder(tmp_path / "site", *THREE_FOR_TWO_SETS), tmp_path / "out"
    built(folder)
    before = {path: path.read_bytes() for path in out.rglob("*") if path.is_file()}
    write_folder(folder, *THREE_FOR_TWO_SETS[:2], THREE_FOR_TWO_SETS[2].replace("08:30", "09:30"))

    def stop(stage: str) -> None:
        if stage == "Looking for remedies":
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        build_day(Wanted(folder=folder, out=out, now=EVENING + timedelta(minutes=30), day=DAY), stop)
    assert "pick-lists/OR 3 0930 M3.pdf" in ahead
    assert {path: path.read_bytes() for path in out.rglob("*") if path.is_file()} == before
    assert not [thread.name for thread in running_threads() if thread.name == "lists ahead"]


def test_that_the_rest_is_told_by_the_papers_that_took_their_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two lists were set before; three sheets of ten seconds each make it a minute for the six that are left."""
    clock = iter((0.0, 0.001, 0.002, 10.002, 20.002, 30.002, 50.0, 50.01))
    monkeypatch.setattr(progress, "monotonic", lambda: next(clock))
    says: list[str] = []
    report = Report(says.append)
    report("Printing")
    for number in range(1, 6):
        report("Printing", number, 11, "a.pdf")
    report("Printing", 10, 11, "b.pdf")
    report("Printing", 11, 11, "c.pdf")
    assert says == [
        "Printing",
        "Printing, 1 of 11 done: a.pdf",
        "Printing, 2 of 11 done: a.pdf",
        "Printing, 3 of 11 done: a.pdf",
        "Printing, 4 of 11 done: a.pdf",
        "Printing, 5 of 11 done, about 60 seconds left: a.pdf",
        "Printing, 10 of 11 done, about 10 seconds left: b.pdf",
        "Printing, 11 of 11 done: c.pdf",
    ]


def test_that_what_is_printed_between_two_searches_does_not_count_for_the_rest_of_the_search(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Four searches of five seconds each, and a minute of printing in between: the other six take half a minute."""
    clock = iter((0.0, 5.0, 10.0, 12.0, 72.0, 77.0, 82.0, 87.0))
    monkeypatch.setattr(progress, "monotonic", lambda: next(clock))
    says: list[str] = []
    report = Report(says.append)
    report("Looking", 0, 10)
    report("Looking", 1, 10)
    report("Looking", 2, 10)
    report("Printing")
    report("Printing", 1, 1, "a.pdf")
    report("Looking", 3, 10)
    report("Looking", 4, 10)
    report("Looking", 5, 10)
    assert says[-1] == "Looking, 5 of 10 done, about 25 seconds left"
