"""A disk that is really full: a sentence that names the file, exit code 2, nothing lost, and the next run works."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from openpyxl import load_workbook

from tests.cli.run import FINE, PROBLEMS, WRONG_USE, run
from tests.cli.test_bad_targets import as_it_stands
from tests.inputs.folders import Rows, write_site
from tests.upkeep.office import row_of, write

NOW = ("--now", "2026-11-25 18:00")
LATER = ("--now", "2026-11-26 20:00")
DAY = ("--day", "2026-11-26")
OF_ROOT = hasattr(os, "geteuid") and os.geteuid() == 0
Command = Callable[[Path], tuple[str, ...]]

COMMANDS: dict[str, Command] = {
    "build": lambda disk: ("build", str(disk / "site"), "--out", str(disk / "out"), "--no-chance", *NOW),
    "used": lambda disk: ("used", str(disk / "site"), str(disk / "used.csv"), *DAY, *LATER),
    "carts": lambda disk: ("carts", str(disk / "site"), str(disk / "carts.xlsx"), *NOW),
    "scan": lambda disk: ("scan", str(disk / "site"), str(disk / "scans.txt"), *NOW),
    "settle": lambda disk: ("settle", str(disk / "site"), *DAY, "--write", *LATER),
    "approve": lambda disk: (
        *("cards", "approve", str(disk / "site"), (disk / "proposal").read_text(), "--by", "R. Vale"),
        *("--reason", "asked by the office", "--from", "2026-11-26", *NOW),
    ),
    "records": lambda disk: ("records", str(disk / "site"), "--out", str(disk / "records")),
}


def longer(rows: Rows) -> None:
    """Many lots and notes, so that no file fits into a block that happens to be left."""
    rows["Lots"] += [
        {"item": "100002", "lot": f"L-{number:04}", "quantity": 3, "expiry": "2027-06", "place": "A-02"}
        for number in range(300)
    ]


@pytest.fixture(scope="module")
def evening(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A site with built lists, reported carts, usage, a proposal that waits, and forms to take in."""
    place = tmp_path_factory.mktemp("evening")
    site = write_site(place / "site", longer)
    assert run(*COMMANDS["build"](place))[0] == FINE
    (place / "scans.txt").write_text("C-2.R1\nBY mk\nDONE\n", encoding="utf-8")
    assert run(*COMMANDS["scan"](place))[0] == FINE
    book = load_workbook(place / "out" / "carts.xlsx")
    sheet = book["Carts"]
    heads = [cell.value for cell in sheet[3]]
    sheet.cell(4, heads.index("done") + 1).value = "yes"
    book.save(place / "carts.xlsx")
    (place / "used.csv").write_text(
        "case,kind,thing,set,open,hold,used,unopened\nC-2,tray,T-BASIC,BASIC-01,1,0,1,0\nC-2,item,100002,,3,0,3,0\n",
        encoding="utf-8",
    )
    assert run(*COMMANDS["used"](place))[0] == FINE
    (place / "scans.txt").write_text("C-2.R1\nNOTE second look\nDONE\n", encoding="utf-8")
    assert run("cards", "send", str(site), "S01", "--out", str(place / "quill.xlsx"), *NOW)[0] == FINE
    book = load_workbook(place / "quill.xlsx")
    write(book["KNEE"], row_of(book["KNEE"], "T-KNEE"), open=2)
    book.save(place / "quill.xlsx")
    found = re.search(r"cards show \S+ (\S+)", run("cards", "take", str(site), str(place / "quill.xlsx"), *NOW)[1])
    assert found
    (place / "proposal").write_text(found[1], encoding="utf-8")
    assert run(*COMMANDS["records"](place))[0] == FINE
    return place


@pytest.fixture
def disk(evening: Path, tmp_path: Path) -> Iterator[Path]:
    """The evening on a small disk of its own."""
    mount = tmp_path / "disk"
    mount.mkdir()
    if subprocess.run(["mount", "-t", "tmpfs", "-o", "size=12m", "none", str(mount)], check=False).returncode:
        pytest.skip("no tmpfs may be mounted here")
    try:
        shutil.copytree(evening, mount, dirs_exist_ok=True)
        yield mount
    finally:
        subprocess.run(["umount", str(mount)], check=True)


def fill(disk: Path, left: int) -> Path:
    """A file that leaves so many bytes of the disk."""
    filler = disk / "filler"
    room = os.statvfs(disk)
    filler.write_bytes(bytes(room.f_bavail * room.f_frsize - left))
    return filler


@pytest.mark.skipif(not OF_ROOT, reason="mounting a small disk needs root")
@pytest.mark.parametrize("left", [0, 8192, 40960])
@pytest.mark.parametrize("name", COMMANDS)
def test_that_a_full_disk_is_a_sentence_and_loses_nothing(name: str, left: int, disk: Path) -> None:
    words = COMMANDS[name](disk)
    before = as_it_stands(disk)
    filler = fill(disk, left)
    code, said, told = run(*words)
    assert "Traceback" not in told
    filler.unlink()
    if code not in (FINE, PROBLEMS) or left == 0:  # a small command may find room in what was left
        lines = [line for line in told.splitlines() if line.startswith("picklist: ")]
        assert (code, len(lines)) == (WRONG_USE, 1), f"{said}{told}"
        assert "the disk is full" in lines[0]
        assert "what comes out" not in lines[0], "the file must be named"
        now = as_it_stands(disk)
        assert {key: now[key] for key in before if key in now} == before
        assert [key for key in now if key not in before and ".picklist." not in key] == []
        assert [path.name for path in disk.rglob(".*.part")] == []
        assert run(*words)[0] in (FINE, PROBLEMS)
    assert run("check", str(disk / "site"), *LATER)[0] == FINE
    assert run("records", str(disk / "site"), "--out", str(disk / "records"))[0] == FINE


LIMITED = "import resource as r; r.setrlimit(r.RLIMIT_FSIZE, (20000, 20000)); from picklist.cli import main; main()"


@pytest.mark.skipif(os.name != "posix", reason="limits of POSIX")
@pytest.mark.parametrize("name", ["build", "records", "settle"])
def test_that_a_limit_on_the_size_of_files_is_a_sentence_and_loses_nothing(
    name: str, evening: Path, tmp_path: Path
) -> None:
    shutil.copytree(evening, tmp_path, dirs_exist_ok=True)
    before = as_it_stands(tmp_path)
    words = [sys.executable, "-B", "-c", LIMITED, *COMMANDS[name](tmp_path)]  # -B: or it would leave modules cut short
    measured_not = {name: value for name, value in os.environ.items() if not name.startswith("COVERAGE_")}
    done = subprocess.run(  # what is measured of a run would be a file above the limit
        words, capture_output=True, text=True, check=False, cwd=Path(__file__).parents[2], env=measured_not
    )
    assert done.returncode == WRONG_USE, done.stderr
    assert "Traceback" not in done.stderr
    assert [line for line in done.stderr.splitlines() if line.startswith("picklist: ")], done.stderr
    assert {key: now for key, now in as_it_stands(tmp_path).items() if key in before} == before
    assert run(*COMMANDS[name](tmp_path))[0] in (FINE, PROBLEMS)
