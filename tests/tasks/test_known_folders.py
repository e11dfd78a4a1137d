"""A folder whose files did not change is not read again; one byte more, and it is."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from picklist.checks import check_site
from picklist.inputs import read_site
from picklist.store.kept_readings import FOLDER
from picklist.tasks import read_folder
from picklist.tasks.read_folder import KnownFolders, load_folder
from tests.patience import tries
from tests.tasks.small_folder import TABLES, write_folder

NOW = datetime(2026, 11, 25, 18, 0, tzinfo=UTC)
CASE = "C-1,2026-11-26,OR 1,07:30,60,S1,P1,none,"
FILES = sorted(f"{name}.csv" for name in (*TABLES, "Schedule"))


@settings(max_examples=tries(200, 25))
@given(st.data())
def test_that_whatever_is_done_to_a_file_the_folder_is_read_as_it_is(data: st.DataObject) -> None:
    with TemporaryDirectory() as place, pytest.MonkeyPatch.context() as patch:
        patch.setenv(FOLDER, str(Path(place) / "kept"))
        folder, known = write_folder(Path(place) / "north", CASE), KnownFolders()
        known.read(folder, NOW)
        for _ in range(data.draw(st.integers(1, 3))):
            path = data.draw(st.sampled_from(sorted(folder.iterdir())))
            content = path.read_bytes()
            match data.draw(st.sampled_from(("a byte", "rename", "remove", "add", "put back"))):
                case "a byte" if content:
                    at = data.draw(st.integers(0, len(content) - 1))
                    path.write_bytes(content[:at] + data.draw(st.binary(min_size=1, max_size=1)) + content[at + 1 :])
                case "rename":
                    path.rename(folder / data.draw(st.sampled_from(["old.csv", "Lots 2.csv", ".Lots.csv", "note.txt"])))
                case "remove" if len(list(folder.iterdir())) > 1:
                    path.unlink()
                case "add":
                    (folder / data.draw(st.sampled_from([*FILES, "Holidays.csv", "photo.jpg"]))).write_bytes(content)
                case _:
                    write_folder(folder, CASE)
            later = NOW + timedelta(hours=data.draw(st.sampled_from((0, 1, 24))))
            site, problems = read_site(folder, now=later)
            for one in (known, KnownFolders(), KnownFolders()):  # this run, a later one, and one after that
                found = one.read(folder, later)
                assert (found.site, found.problems) == (site, problems)
                assert site is None or found.check(site, later) == check_site(site, later)


def counted(patch: pytest.MonkeyPatch, *names: str) -> list[str]:
    """The names of these functions, each time that one is called."""
    done: list[str] = []

    def watch(name: str) -> None:
        usual = getattr(read_folder, name)

        def one(*of: Any, **how: Any) -> Any:
            done.append(name)
            return usual(*of, **how)

        patch.setattr(read_folder, name, one)

    for name in names:
        watch(name)
    return done


def test_that_a_folder_is_read_and_checked_once_however_often_it_is_asked_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder, done = (
        write_folder(tmp_path / "north", CASE),
        counted(monkeypatch, "read_site", "check_site", "check_cards"),
    )
    first = load_folder(folder, NOW)
    assert load_folder(folder, NOW) == first
    assert done == ["read_site", "check_cards", "check_site"]
    load_folder(folder, NOW + timedelta(hours=1))
    assert done == ["read_site", "check_cards", "check_site", "check_site"], "what is wrong depends on the time"
    (folder / "Holidays.csv").write_text(f"day,name\n{date(2026, 11, 26)},Thanksgiving\n")
    load_folder(folder, NOW)
    assert done[4:] == ["read_site", "check_cards", "check_site"]


def test_that_a_later_run_reads_no_unchanged_folder_and_checks_its_cards_once_a_day(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(FOLDER, str(tmp_path / "kept"))
    folder, done = write_folder(tmp_path / "north", CASE), counted(monkeypatch, "read_site", "check_cards")

    def run(now: datetime) -> object:
        monkeypatch.setattr(read_folder, "KNOWN", KnownFolders())
        return load_folder(folder, now)

    first = run(NOW)
    assert done == ["read_site", "check_cards"]
    assert run(NOW) == first
    run(NOW + timedelta(minutes=1))
    assert done == ["read_site", "check_cards"]
    (folder / "Rooms.csv").write_text("room,building\nOR 1,\n")
    run(NOW)
    assert done[2:] == ["read_site", "check_cards"]


def test_that_a_folder_that_is_written_to_while_it_is_read_is_read_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder, known = write_folder(tmp_path / "north", CASE), KnownFolders()

    def written(folder: Path, *, now: datetime) -> object:
        found = read_site(folder, now=now)
        write_folder(folder, CASE, Rooms="room,building\nOR 1,\nOR 9,\n")
        return found

    with monkeypatch.context() as meanwhile:
        meanwhile.setattr(read_folder, "read_site", written)
        known.read(folder, NOW)
    site = known.read(folder, NOW).site
    assert site is not None
    assert "OR 9" in site.rooms
