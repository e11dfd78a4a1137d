"""A folder of papers is there whole or not at all, whenever a run dies."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from picklist.documents.write import NotOurFolderError, is_ours, recover, write_folder

FILES = 12

WRITER = """
import sys, time
from pathlib import Path
from picklist.documents.write import write_folder

def make(folder):
    for number in range({files}):
        (folder / f"{{number}}.txt").write_text(sys.argv[2] * 2000)
        time.sleep(0.002)

print("begun", flush=True)
write_folder(Path(sys.argv[1]), make)
"""


def make_of(word: str) -> object:
    def make(folder: Path) -> None:
        for number in range(FILES):
            (folder / f"{number}.txt").write_text(word * 2000)

    return make


def words_in(folder: Path) -> set[str]:
    """The distinct contents of a folder's files, each cut to its first letter; fails when a file is missing."""
    texts = [(folder / f"{number}.txt").read_text() for number in range(FILES)]
    assert all(len(text) == 2000 for text in texts)
    return {text[0] for text in texts}


def test_that_a_folder_is_replaced_as_a_whole(tmp_path: Path) -> None:
    target = tmp_path / "deep" / "out"
    write_folder(target, make_of("a"))  # type: ignore[arg-type]
    (target / "left over.txt").write_text("from an older revision")
    write_folder(target, make_of("b"))  # type: ignore[arg-type]
    assert words_in(target) == {"b"}
    assert not (target / "left over.txt").exists()
    assert [path.name for path in target.parent.iterdir()] == ["out"]


def test_that_a_failed_run_leaves_the_former_folder(tmp_path: Path) -> None:
    target = tmp_path / "out"
    write_folder(target, make_of("a"))  # type: ignore[arg-type]

    def fails(folder: Path) -> None:
        (folder / "0.txt").write_text("half")
        raise OSError("the disk is full")

    with pytest.raises(OSError, match="disk is full"):
        write_folder(target, fails)
    assert words_in(target) == {"a"}
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_that_a_folder_of_others_is_not_touched(tmp_path: Path) -> None:
    target = tmp_path / "thesis"
    target.mkdir()
    (target / "chapter.txt").write_text("mine")
    with pytest.raises(NotOurFolderError, match="did not write"):
        write_folder(target, make_of("a"))  # type: ignore[arg-type]
    assert (target / "chapter.txt").read_text() == "mine"
    (tmp_path / "file").write_text("x")
    with pytest.raises(NotOurFolderError, match="is a file"):
        write_folder(tmp_path / "file", make_of("a"))  # type: ignore[arg-type]


def test_that_an_empty_folder_may_be_filled(tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    write_folder(tmp_path / "out", make_of("a"))  # type: ignore[arg-type]
    assert is_ours(tmp_path / "out")


def test_that_a_death_between_the_two_renames_is_mended(tmp_path: Path) -> None:
    target = tmp_path / "out"
    write_folder(target, make_of("a"))  # type: ignore[arg-type]
    target.rename(tmp_path / ".out.former")
    (tmp_path / ".out.new").mkdir()
    recover(target)
    assert words_in(target) == {"a"}
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_that_a_death_after_both_renames_is_cleared_up(tmp_path: Path) -> None:
    target = tmp_path / "out"
    write_folder(target, make_of("a"))  # type: ignore[arg-type]
    target.rename(tmp_path / ".out.former")
    write_folder(tmp_path / "fresh", make_of("b"))  # type: ignore[arg-type]
    (tmp_path / "fresh").rename(target)
    recover(target)
    assert words_in(target) == {"b"}
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


@pytest.mark.skipif(sys.platform == "win32", reason="a process cannot be killed outright there")
def test_that_a_run_killed_at_any_moment_leaves_one_whole_folder(tmp_path: Path) -> None:
    target, moments = tmp_path / "out", random.Random(20261126)
    write_folder(target, make_of("a"))  # type: ignore[arg-type]
    outcomes = set()
    for round_ in range(16):
        word = "bc"[round_ % 2]
        before = words_in(target)
        run = subprocess.Popen(
            [sys.executable, "-c", WRITER.format(files=FILES), str(target), word],
            stdout=subprocess.PIPE,
            env=os.environ | {"PYTHONPATH": str(Path(__file__).parents[2])},
        )
        assert run.stdout is not None
        run.stdout.readline()
        time.sleep(moments.uniform(0, 0.06))
        run.send_signal(signal.SIGKILL)
        run.wait()
        run.stdout.close()
        recover(target)
        after = words_in(target)
        assert after in (before, {word})
        outcomes.add(after == {word})
        assert [path.name for path in tmp_path.iterdir()] == ["out"]
    assert outcomes == {True, False}, "the moments should fall on both sides of the swap"
