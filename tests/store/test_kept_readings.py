"""What was read is kept for the next run: for this user alone, whole or not at all, and without a word to be read."""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
import zlib
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from picklist.checks import check_cards, check_site
from picklist.documents.plan_json import plan_to_json
from picklist.inputs import read_site
from picklist.plan import PlanRequest, make_plan
from picklist.store import kept_readings
from picklist.store.kept_readings import FOLDER, MOST_KEPT, find_reading, keep_reading
from tests.plan.rich_site import rich_tables, write_csv

NOW = datetime(2026, 11, 25, 18, 0, tzinfo=UTC)


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A cache folder of this test's own, which is not there yet."""
    folder = tmp_path / "caches" / "picklist"
    monkeypatch.setenv(FOLDER, str(folder))
    return folder


@pytest.fixture(scope="module")
def rich(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """What is read of a site in which every column says something, and what is wrong with its cards."""
    site, problems = read_site(write_csv(tmp_path_factory.mktemp("rich") / "site", rich_tables()), now=NOW)
    assert site is not None
    return site, problems, (NOW.date(), check_cards(site, NOW.date()))


def test_that_a_plan_from_what_was_kept_is_the_same_to_the_byte(home: Path, rich: Any) -> None:
    keep_reading("as it was", rich)
    kept = find_reading("as it was")
    assert kept == rich
    assert kept is not rich
    plans, day = [], (NOW + timedelta(days=1)).date()
    for site, problems, (_, of_cards) in (rich, kept):
        wrong = (*problems, *check_site(site, NOW, of_cards))
        assert wrong == (*problems, *check_site(site, NOW))
        plans.append(plan_to_json(make_plan(site, wrong, PlanRequest(day=day, now=NOW, with_remedies=False))))
    assert plans[0] == plans[1]
    (file,) = home.iterdir()
    assert [one.stat().st_mode & 0o777 for one in (home, file)] == [0o700, 0o600]


def test_that_nothing_is_found_under_another_mark_or_for_another_program(
    home: Path, rich: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    keep_reading("as it was", rich)
    assert find_reading("as it is") is None
    assert home.is_dir()
    monkeypatch.setattr(kept_readings, "_program", lambda: "a later one")
    assert find_reading("as it was") is None


def test_that_a_file_with_any_byte_changed_or_cut_off_is_not_used(home: Path) -> None:
    reading = ("case", 7, NOW)
    keep_reading("as it was", reading)
    (file,) = home.iterdir()
    whole = file.read_bytes()
    for at in range(len(whole)):
        file.write_bytes(whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :])
        assert find_reading("as it was") is None, at
        file.write_bytes(whole[:at])
        assert find_reading("as it was") is None, at
    file.write_bytes(whole)
    assert find_reading("as it was") == reading


def test_that_the_file_cannot_be_read_without_the_files_it_was_made_of(home: Path, rich: Any) -> None:
    words = [b"Quill", b"HIP-L", b"Hip replacement", b"bring spare battery"]
    packed = kept_readings._packed(rich)
    assert all(word in zlib.decompress(packed) for word in words)
    keep_reading("as it was", rich)
    (file,) = home.iterdir()
    sealed = file.read_bytes()
    assert not [word for word in words if word in sealed or word.hex() in file.name]
    assert kept_readings._opened(b"another root", sealed) is None
    with pytest.raises(zlib.error):
        zlib.decompress(sealed[kept_readings.TAG :])


class _Harm:
    def __reduce__(self) -> tuple[Any, tuple[str]]:
        return os.mkdir, ("harm",)


def test_that_no_code_of_a_file_runs_even_under_the_right_seal(
    home: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.chdir(tmp_path)
    keep_reading("as it was", ("a", "b"))
    (file,) = home.iterdir()
    root = kept_readings._root("as it was")
    # Of the house, but no object of the model: a function, and a class that does something.
    others = [pickle.dumps(one) for one in (_Harm(), kept_readings.keep_reading, kept_readings._Packer)]
    for harm in others:
        file.write_bytes(kept_readings._sealed(root, zlib.compress(harm)))
        assert find_reading("as it was") is None
    assert not (tmp_path / "harm").exists()


def test_that_a_folder_which_others_may_look_into_is_left_alone(home: Path, rich: Any) -> None:
    home.mkdir(parents=True)
    home.chmod(0o755)
    keep_reading("as it was", rich)
    assert list(home.iterdir()) == []
    home.chmod(0o700)
    keep_reading("as it was", rich)
    home.chmod(0o770)
    assert find_reading("as it was") is None


def test_that_without_a_folder_to_write_to_nothing_is_kept_and_nothing_fails(
    home: Path, rich: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    home.parent.write_text("a file is in the way")
    keep_reading("as it was", rich)
    assert find_reading("as it was") is None
    monkeypatch.setenv(FOLDER, "")
    keep_reading("as it was", rich)
    assert find_reading("as it was") is None
    monkeypatch.delenv(FOLDER)
    monkeypatch.setenv("HOME", str(home.parent / "nowhere"))
    monkeypatch.setenv("XDG_CACHE_HOME", "not absolute")
    keep_reading("as it was", rich)
    assert find_reading("as it was") is None


def test_that_it_lies_where_the_system_keeps_what_may_be_lost(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.delenv(FOLDER)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    keep_reading("as it was", ("a",))
    assert [path.parent for path in tmp_path.rglob("*.reading")] == [tmp_path / "picklist"]


def test_that_the_folder_grows_no_further_and_what_is_used_stays(home: Path) -> None:
    for number in range(MOST_KEPT + 5):
        keep_reading(f"day {number}", (number,))
        for age, path in enumerate(sorted(home.iterdir(), key=lambda one: one.stat().st_mtime, reverse=True)):
            os.utime(path, ns=(0, path.stat().st_mtime_ns - 10**9 * (age + 1)))
        assert find_reading("day 0") == (0,), "used again and again"
    assert len(list(home.iterdir())) == MOST_KEPT
    left = home / "cut off.123.part"
    left.write_bytes(b"x")
    old = kept_readings.LONGEST + 60
    for path in home.iterdir():
        os.utime(path, (path.stat().st_mtime - old,) * 2)
    keep_reading("today", (1,))
    assert len(list(home.iterdir())) == 1


WRITER = """
from picklist.store.kept_readings import find_reading, keep_reading
for number in range(150):
    keep_reading("as it was", ("the same", 7))
    assert find_reading("as it was") in (None, ("the same", 7))
"""


def test_that_two_programs_at_once_leave_a_whole_file(home: Path) -> None:
    both = [subprocess.Popen([sys.executable, "-c", WRITER]) for _ in range(2)]
    assert [one.wait() for one in both] == [0, 0]
    assert find_reading("as it was") == ("the same", 7)
    assert len(list(home.iterdir())) == 1
