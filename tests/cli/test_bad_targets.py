"""Wherever a command is told to write: what cannot be is one sentence and exit code 2, and nothing of anybody is lost.

Tests may run as root, for whom no file is read-only; what the computer refuses is put in by hand where it
cannot be had for real.
"""

from __future__ import annotations

import errno
import os
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from picklist.documents.page_cache import free_name
from picklist.tasks.errors import WrongUse
from picklist.tasks.papers import check_whose
from tests.cli.run import FINE, PROBLEMS, WRONG_USE, run
from tests.tasks.small_folder import write_folder

CASE = "M1,2026-11-26,OR 1,08:00,60,S1,P1,none,planned"
CARDS = """procedure,surgeon,change,kind,thing,open,hold,approved
P1,,add,tray,T-WR,1,0,yes
P1,S1,add,item,100001,1,0,yes
"""
NOW = ("--now", "2026-11-25 18:00")
Command = Callable[[str, str], tuple[str, ...]]  # of the site and the place to write to, the words to type
FOLDERS: dict[str, Command] = {
    "build": lambda site, out: ("build", site, "--out", out, "--no-chance", *NOW),
    "records": lambda site, out: ("records", site, "--out", out),
    "blank": lambda _, out: ("blank", out),
}
FILES: dict[str, Command] = {
    "morning": lambda site, out: ("morning", site, "--out", f"{out}.pdf", *NOW),
    "send": lambda site, out: ("cards", "send", site, "S1", "--out", f"{out}.xlsx", *NOW),
    "take": lambda site, out: (
        "cards",
        "take",
        site,
        str(Path(site).parent / "back.xlsx"),
        "--back",
        f"{out}.xlsx",
        *NOW,
    ),
}
COMMANDS: dict[str, Command] = FOLDERS | FILES
ENDING = {"morning": ".pdf", "send": ".xlsx", "take": ".xlsx"}
WORDS = {
    errno.ENOSPC: "the disk is full",
    errno.EACCES: "you are not allowed to",
    errno.EROFS: "is read-only",
    errno.EIO: "the disk failed",
}
DONE = {FINE, PROBLEMS}


@pytest.fixture(scope="module")
def evening(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A site whose lists were built once, and a workbook with a mistake that came back from an office."""
    place = tmp_path_factory.mktemp("evening")
    folder = write_folder(place / "site", CASE, Cards=CARDS)
    assert run(*FOLDERS["build"](str(folder), str(place / "first")))[0] == FINE
    sent = place / "back.xlsx"
    assert run("cards", "send", str(folder), "S1", "--out", str(sent), *NOW)[0] == FINE
    spoil(sent)
    return place


@pytest.fixture
def site(evening: Path, tmp_path: Path) -> str:
    shutil.copytree(evening, tmp_path, dirs_exist_ok=True)
    return str(tmp_path / "site")


def spoil(workbook: Path) -> None:
    """Write a quantity that is none into the first filled line of an office's workbook."""
    from openpyxl import load_workbook

    book = load_workbook(workbook)
    for sheet in book.worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                if cell.value in (1, "1") and not cell.protection.locked:
                    cell.value = "plenty"
                    book.save(workbook)
                    return
    raise AssertionError("no line of the office was found")


def as_it_stands(folder: Path) -> dict[str, bytes | str]:
    """Every file below a folder; the state's own are its business."""
    return {
        path.relative_to(folder).as_posix(): str(path.readlink()) if path.is_symlink() else path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if (path.is_symlink() or path.is_file()) and ".sqlite" not in path.name
    }


def refused(name: str, site: str, out: Path) -> str:
    code, _, said = run(*COMMANDS[name](site, str(out)))
    lines = [line for line in said.splitlines() if line.startswith("picklist: ")]
    assert code == WRONG_USE, said
    assert len(lines) == 1
    assert "Traceback" not in said
    assert "[Errno" not in said
    return lines[0]


@pytest.mark.parametrize("name", COMMANDS)
def test_that_a_missing_folder_is_made(name: str, site: str, tmp_path: Path) -> None:
    out = tmp_path / "deep" / "down, 50 % größer" / "out"
    code, _, said = run(*COMMANDS[name](site, str(out)))
    assert code in DONE, said
    assert out.with_name(f"out{ENDING.get(name, '')}").exists()


@pytest.mark.parametrize("name", COMMANDS)
def test_that_a_file_in_the_way_stays(name: str, site: str, tmp_path: Path) -> None:
    (tmp_path / "letter").write_text("mine")
    refused(name, site, tmp_path / "letter" / "out")
    if name in FOLDERS:
        refused(name, site, tmp_path / "letter")
    assert (tmp_path / "letter").read_text() == "mine"


@pytest.mark.parametrize("name", FILES)
def test_that_a_folder_of_that_name_is_not_written_over(name: str, site: str, tmp_path: Path) -> None:
    (tmp_path / f"out{ENDING[name]}").mkdir()
    assert "is a folder, not a file" in refused(name, site, tmp_path / "out")


@pytest.mark.parametrize("name", COMMANDS)
def test_that_a_link_stays_a_link_however_often_it_is_written(name: str, site: str, tmp_path: Path) -> None:
    ending = ENDING.get(name, "")
    link, real = tmp_path / f"out{ending}", tmp_path / "elsewhere" / f"real{ending}"
    if name in FOLDERS:
        real.mkdir(parents=True)
    else:
        real.parent.mkdir()
        real.write_bytes(b"the former one")
    link.symlink_to(real)
    for time in (1, 2):
        if name == "blank" and time == 2:
            break  # it asks for a new folder
        code, _, said = run(*COMMANDS[name](site, str(tmp_path / "out")))
        assert code in DONE, said
        assert link.is_symlink()
        assert any(real.iterdir()) if name in FOLDERS else real.read_bytes() != b"the former one"
    assert sorted(path.name for path in real.parent.iterdir()) == [real.name]


@pytest.mark.parametrize("name", COMMANDS)
def test_that_nothing_is_made_up_for_a_link_that_leads_nowhere(name: str, site: str, tmp_path: Path) -> None:
    ending = ENDING.get(name, "")
    (tmp_path / f"out{ending}").symlink_to(tmp_path / "not plugged in" / "papers")
    assert "which is not there" in refused(name, site, tmp_path / "out")
    (tmp_path / f"round{ending}").symlink_to(tmp_path / f"round{ending}")
    refused(name, site, tmp_path / "round")
    assert not (tmp_path / "not plugged in").exists()


def refuse_writing(number: int, at: int, near: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the computer refuse each file that is written near a place, from the one of that number on."""
    opened, written = Path.open, [0]

    def opening(self: Path, mode: str = "r", *rest: object, **more: object) -> object:
        if set(mode) & set("wxa+") and near in self.parents:
            written[0] += 1
            if written[0] >= at:
                raise OSError(number, os.strerror(number), str(self))
        return opened(self, mode, *rest, **more)  # type: ignore[call-overload]

    monkeypatch.setattr(Path, "open", opening)


@pytest.mark.parametrize(
    ("name", "number"),
    [
        *((name, errno.ENOSPC) for name in COMMANDS),
        *(("records", one) for one in (errno.EACCES, errno.EROFS, errno.EIO)),
    ],
)
def test_that_what_was_there_outlives_a_disk_that_refuses(
    name: str, number: int, site: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    place = tmp_path / "place"
    place.mkdir()
    if name != "blank":
        assert run(*COMMANDS[name](site, str(place / "out")))[0] in DONE
    before = as_it_stands(place)
    with monkeypatch.context() as full:
        refuse_writing(number, 2 if name in FOLDERS else 1, place, full)
        said = refused(name, site, place / "out")
    assert WORDS[number] in said
    assert as_it_stands(place) == before
    assert [path.name for path in place.iterdir() if path.name.startswith(".")] == []
    assert run(*COMMANDS[name](site, str(place / "out")))[0] in DONE


@pytest.mark.parametrize("name", FILES)
def test_that_no_table_of_the_site_is_written_over(name: str, site: str, tmp_path: Path) -> None:
    table = Path(site) / f"Sheet{ENDING[name]}"
    table.write_bytes(b"a file of the site")
    assert "the site's own files" in refused(name, site, table.with_suffix(""))
    assert table.read_bytes() == b"a file of the site"
    code, _, said = run(
        *(
            word.replace(".pdf", ".txt").replace("out.xlsx", "out.txt")
            for word in FILES[name](site, str(tmp_path / "out"))
        )
    )
    assert code == WRONG_USE
    assert "must end in" in said


def test_that_what_an_office_filled_in_is_kept_when_its_workbook_is_sent_again(site: str, tmp_path: Path) -> None:
    filled = (tmp_path / "back.xlsx").read_bytes()
    assert run("cards", "send", site, "S1", "--out", str(tmp_path / "back.xlsx"), *NOW)[0] == FINE
    assert filled in {path.read_bytes() for path in (tmp_path / "site.picklist.kept").iterdir()}


def test_that_a_page_that_is_there_already_is_kept_and_named(site: str, tmp_path: Path) -> None:
    (tmp_path / "out.pdf").write_bytes(b"%PDF of somebody else")
    code, said, _ = run(*FILES["morning"](site, str(tmp_path / "out")))
    (kept,) = (tmp_path / "site.picklist.kept").iterdir()
    assert code == FINE
    assert f"out.pdf was there before; the former one is kept as {kept}" in said
    assert kept.read_bytes() == b"%PDF of somebody else"


@pytest.mark.parametrize(
    ("wanted", "name"),
    [
        ("OR 1 0800 C-1", "OR 1 0800 C-1"),
        ("CON. 0730 C-1", "list CON. 0730 C-1"),  # Windows takes what stands before the first dot for a device
        ("nul", "list nul"),
        ("../../C-1", "C-1"),
        ("?*", "list"),
        ("\U0001d49c" * 70, "\U0001d49c" * 50),  # four bytes each
    ],
)
def test_that_the_file_of_a_list_has_a_name_that_every_disk_takes(wanted: str, name: str) -> None:
    assert free_name(wanted, set()) == name
    assert free_name(wanted.lower(), {name.casefold()}) != name


def test_that_the_marked_copy_is_not_put_over_what_came_in(site: str, tmp_path: Path) -> None:
    filled = (tmp_path / "back.xlsx").read_bytes()
    back = str(tmp_path / "back.xlsx")
    code, _, said = run("cards", "take", site, back, "--back", back, *NOW)
    assert (code, (tmp_path / "back.xlsx").read_bytes()) == (WRONG_USE, filled)
    assert "the file that came in" in said


@pytest.mark.parametrize("name", ["build", "records"])
def test_that_two_sites_do_not_write_into_one_folder(name: str, site: str, tmp_path: Path) -> None:
    """The other site is a copy of the first, with the same name in its settings, tried out beside it."""
    out = tmp_path / "out"
    copy = str(shutil.copytree(site, tmp_path / "a copy of the site"))
    assert run(*COMMANDS["build"](copy, str(tmp_path / "papers of the copy")), "--clock", "12")[0] == FINE
    assert run(*COMMANDS[name](site, str(out)))[0] == FINE
    before = as_it_stands(out)
    assert "another site" in refused(name, copy, out)
    assert as_it_stands(out) == before
    if name == "build":
        check_whose(Path(site), out)
        with pytest.raises(WrongUse, match="another site"):  # a page over them would report carts of both as one
            check_whose(Path(copy), out)
    assert run(*COMMANDS[name](site, str(out)))[0] == FINE


@pytest.mark.parametrize(
    "text", [b"", b"{", b"[1, 2]", b'{"a": 3}', b"\xff\xfe", b'{"pick-lists/x.pdf": ["", "M1", "?"]}']
)
def test_that_a_damaged_ledger_of_pages_only_means_drawing_them_again(text: bytes, site: str, tmp_path: Path) -> None:
    out = tmp_path / "first"
    (out / ".pages.json").write_bytes(text)
    (out / ".written.json").write_bytes(text)
    code, _, said = run(*FOLDERS["build"](site, str(out)))
    assert code == FINE, said
    assert (out / ".pages.json").read_bytes().startswith(b'{"')


def test_that_a_site_may_be_a_link(site: str, tmp_path: Path) -> None:
    link = tmp_path / "the site"
    link.symlink_to(site)
    code, said, wrong = run(*FOLDERS["build"](str(link), str(tmp_path / "first")))
    assert code == FINE, wrong
    assert "revision 2" in said
