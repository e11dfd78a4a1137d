"""A folder of papers is there whole or not at all, whenever a run dies."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from picklist.documents.whole_folder import ASIDE, LIST, NotOurFolderError, is_ours, recover, write_folder
from tests.patience import THOROUGH

FILES = 4

# Forks a writer again and again; each is killed outright before a later line of the writing
# module than the one before it, until one gets through. A line that is run again and again counts
# once, in a thorough run each time. Prints what stood there after each.
KILLER = """
import os, shutil, signal, sys
from pathlib import Path
from picklist.documents import whole_folder

target = Path(sys.argv[1])

def make(folder):
    for number in range({files}):
        (folder / f"{{number}}.txt").write_text("b" * 2000)

def die_before(line):
    seen, lines = 0, set()
    def trace(frame, event, arg):
        nonlocal seen
        if frame.f_code.co_filename != whole_folder.__file__ and frame.f_code.co_name != "make":
            return None
        place = frame.f_code, frame.f_lineno
        seen += event == "line" and ({again} or place not in lines)
        lines.add(place)
        if seen >= line:
            os.kill(os.getpid(), signal.SIGKILL)
        return trace
    sys.settrace(trace)

def lay():
    shutil.rmtree(target, ignore_errors=True)
    def first(folder):
        for number in range({files}):
            (folder / f"{{number}}.txt").write_text("a" * 2000)
        (folder / "form.txt").write_text("empty")
    whole_folder.write_folder(target, first)
    (target / "note.txt").write_text("of others")
    (target / "form.txt").write_text("filled in")

lay()
for line in range(1, 10_000):
    child = os.fork()
    if child == 0:
        die_before(line)
        whole_folder.write_folder(target, make)
        os._exit(0)
    _, status = os.waitpid(child, 0)
    missing = not target.exists()
    whole_folder.recover(target)
    texts = {{(target / f"{{number}}.txt").read_text() for number in range({files})}}
    found = [path.read_text() for path in target.rglob("*.txt")]
    whole = (target / "note.txt").is_file() and "filled in" in found
    beside = [path.name for path in target.parent.iterdir()]
    print(line, "died" if os.WIFSIGNALED(status) else "lived", missing, beside == ["out"] and whole,
          sorted(text[0] * (len(text) == 2000) for text in texts), sep="|")
    if not os.WIFSIGNALED(status):
        break
    lay()
"""


def make_of(word: str) -> Callable[[Path], None]:
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
    write_folder(target, make_of("a"))

    def one_more(folder: Path) -> None:
        make_of("b")(folder)
        (folder / "more.txt").write_text("b")

    write_folder(target, one_more)
    write_folder(target, make_of("b"))
    assert words_in(target) == {"b"}
    assert not (target / "more.txt").exists(), "what is not written any more goes"
    assert [path.name for path in target.parent.iterdir()] == ["out"]


def test_that_files_of_others_in_the_folder_stay(tmp_path: Path) -> None:
    target = tmp_path / "out"
    write_folder(target, make_of("a"))
    (target / "notes of the shift.txt").write_text("call the wash")
    (target / "scans" / "deep").mkdir(parents=True)
    (target / "scans" / "deep" / "1.txt").write_text("C-1.R1")
    (target / "here").symlink_to("notes of the shift.txt")
    for word in ("b", "a", "b"):
        assert write_folder(target, make_of(word)) == ()
    assert words_in(target) == {"b"}
    assert (target / "here").readlink() == Path("notes of the shift.txt")
    assert (target / "here").read_text() == "call the wash"
    assert (target / "scans" / "deep" / "1.txt").read_text() == "C-1.R1"


def test_that_what_was_changed_of_ours_is_put_aside_and_said(tmp_path: Path) -> None:
    target = tmp_path / "out"
    write_folder(target, make_of("a"))
    (target / "2.txt").write_text("filled in")
    (aside,) = write_folder(target, make_of("b"))
    assert (aside.file, aside.ours, aside.to.read_text()) == ("2.txt", True, "filled in")
    assert words_in(target) == {"b"}
    assert write_folder(target, make_of("a")) == (), "it is said once"
    assert (target / "put aside" / "2.txt").read_text() == "filled in"


def test_that_a_file_of_others_with_the_name_of_a_new_one_is_put_aside(tmp_path: Path) -> None:
    target = tmp_path / "out"
    write_folder(target, lambda _: None)
    (target / "3.txt").write_text("mine")
    kept = tmp_path / "kept.txt"
    (aside,) = write_folder(target, make_of("a"), keep=lambda _, path: Path(shutil.copyfile(path, kept)))
    assert (aside.file, aside.ours, kept.read_text()) == ("3.txt", False, "mine")
    assert words_in(target) == {"a"}


def test_that_what_is_saved_while_the_folder_is_written_is_not_lost(tmp_path: Path) -> None:
    """Somebody saves a form and a note while the run is under way, and after what was there was looked at."""
    target = tmp_path / "out"
    write_folder(target, make_of("a"))
    real = Path.rename

    def save_first(self: Path, to: Path) -> Path:
        if self == target:
            (target / "1.txt").write_text("filled in")
            (target / "note.txt").write_text("late")
        return real(self, to)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Path, "rename", save_first)
        (aside,) = write_folder(target, make_of("b"))
    assert (aside.file, aside.to.read_text()) == ("1.txt", "filled in")
    assert (target / "note.txt").read_text() == "late"
    assert words_in(target) == {"b"}


def test_that_nothing_of_a_folder_without_a_list_is_thrown_away(tmp_path: Path) -> None:
    """An earlier version kept no list of what it wrote, so nobody can tell its files from those of others."""
    target = tmp_path / "out"
    write_folder(target, make_of("a"))
    (target / LIST).unlink()
    write_folder(target, make_of("b"))
    assert {path.name: path.read_text()[0] for path in (target / ASIDE).iterdir()} == {
        f"{number}.txt": "a" for number in range(FILES)
    }


def test_that_papers_and_records_do_not_replace_each_other(tmp_path: Path) -> None:
    write_folder(tmp_path / "out", make_of("a"))
    with pytest.raises(NotOurFolderError, match="holds papers"):
        write_folder(tmp_path / "out", make_of("b"), kind="records")


def test_that_a_failed_run_leaves_the_former_folder(tmp_path: Path) -> None:
    target = tmp_path / "out"
    write_folder(target, make_of("a"))

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
        write_folder(target, make_of("a"))
    assert (target / "chapter.txt").read_text() == "mine"
    (tmp_path / "file").write_text("x")
    with pytest.raises(NotOurFolderError, match="is a file"):
        write_folder(tmp_path / "file", make_of("a"))


def test_that_an_empty_folder_may_be_filled(tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    write_folder(tmp_path / "out", make_of("a"))
    assert is_ours(tmp_path / "out")


def test_that_a_death_between_the_two_renames_is_mended(tmp_path: Path) -> None:
    target = tmp_path / "out"
    write_folder(target, make_of("a"))
    target.rename(tmp_path / ".out.former")
    (tmp_path / ".out.new").mkdir()
    recover(target)
    assert words_in(target) == {"a"}
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_that_a_death_after_both_renames_is_cleared_up(tmp_path: Path) -> None:
    target = tmp_path / "out"
    write_folder(target, make_of("a"))
    target.rename(tmp_path / ".out.former")
    write_folder(tmp_path / "fresh", make_of("b"))
    (tmp_path / "fresh").rename(target)
    recover(target)
    assert words_in(target) == {"b"}
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


@pytest.mark.skipif(sys.platform == "win32", reason="a process cannot be forked and killed outright there")
def test_that_a_run_killed_before_any_of_its_lines_leaves_one_whole_folder(tmp_path: Path) -> None:
    target = tmp_path / "out"
    run = subprocess.run(
        [sys.executable, "-c", KILLER.format(files=FILES, again=THOROUGH), str(target)],
        capture_output=True,
        text=True,
        check=True,
        env=os.environ | {"PYTHONPATH": str(Path(__file__).parents[2])},
    )
    rounds = [line.split("|") for line in run.stdout.splitlines()]
    assert rounds[-1][1] == "lived"
    assert len(rounds) > 30
    assert all(clean == "True" for _, _, _, clean, _ in rounds)
    assert {found for *_, found in rounds} == {"['a']", "['b']"}
    assert any(missing == "True" for _, _, missing, _, _ in rounds), "one death falls between the renames"
