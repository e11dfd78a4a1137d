"""Whatever goes wrong, a command ends in one sentence and an exit code of its own; nothing of the site is shown."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

import pytest

import picklist.cli.summary
import picklist.tasks.read_folder
from picklist.cli import main
from picklist.documents.whole_folder import write_folder
from picklist.server.work import Lane, Workshop
from picklist.store.state import state_path
from tests.cli.run import FINE, PROBLEMS, WRONG_USE, run
from tests.patience import PATIENCE
from tests.tasks import small_folder

SECRET = "Example, Jane 1970-01-01"
NOW = ("--now", "2026-11-25 18:00")
FAULT, STOPPED, NOBODY_READS = 70, 130, 141
CASE = "M1,2026-11-26,OR 1,08:00,60,S1,P1,none,planned"


@pytest.fixture
def site(tmp_path: Path) -> Path:
    return small_folder.write_folder(tmp_path / "Größe 100 %", CASE)


def fail(*_: object, **__: object) -> None:
    patient = SECRET
    try:
        raise KeyError(patient)
    except KeyError as error:
        raise ValueError(f"cannot be: {patient}") from error


def end_of(*words: str, monkeypatch: pytest.MonkeyPatch) -> int:
    monkeypatch.setattr(sys, "argv", ["picklist", *words])
    with pytest.raises(SystemExit) as end:
        main()
    assert isinstance(end.value.code, int)
    return end.value.code


def test_that_a_fault_of_the_program_is_a_sentence_and_a_report_without_data(
    site: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(picklist.tasks.read_folder, "load_folder", fail)
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    assert end_of("check", str(site), *NOW, monkeypatch=monkeypatch) == FAULT
    said = capsys.readouterr().err
    (report,) = tmp_path.glob("picklist-fault-*.txt")
    text = report.read_text(encoding="utf-8")
    assert said.count("\n") == 1
    assert str(report) in said
    assert SECRET not in said + text
    assert "KeyError" in text
    assert text.index("KeyError") < text.index("ValueError")
    assert " fail" in text


def test_that_a_fault_is_said_also_where_no_report_can_be_written(
    site: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(picklist.tasks.read_folder, "load_folder", fail)
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "not there"))
    assert end_of("check", str(site), *NOW, monkeypatch=monkeypatch) == FAULT
    said = capsys.readouterr().err
    assert "ValueError in " in said
    assert SECRET not in said


def test_that_a_piece_of_work_of_the_page_ends_in_the_same_words(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))

    def full(_: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), "papers/evening.pdf")

    for doing, words in (
        (fail, "a fault of picklist"),
        (full, "papers/evening.pdf cannot be written: the disk is full"),
    ):
        work = Workshop().start("build", Lane.PLAN, doing, "")
        assert work.done.wait(PATIENCE)
        assert words in work.refused
        assert SECRET not in work.refused + capsys.readouterr().err


def test_that_ctrl_c_in_the_middle_of_a_build_leaves_the_former_papers(
    site: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    words = ("build", str(site), "--out", str(tmp_path / "out"), "--no-chance", *NOW)
    assert run(*words)[0] == FINE
    before = {path: path.read_bytes() for path in (tmp_path / "out").rglob("*") if path.is_file()}

    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as once:
        once.setattr("picklist.documents.write_plan.join", stop)
        assert end_of(*words, monkeypatch=once) == STOPPED
    assert {path: path.read_bytes() for path in (tmp_path / "out").rglob("*") if path.is_file()} == before
    assert not [path for path in tmp_path.iterdir() if path.name.startswith(".")]


def make_of(text: str) -> Callable[[Path], None]:
    def make(folder: Path) -> None:
        (folder / "list").write_text(text)

    return make


def test_that_ctrl_c_between_the_two_renames_leaves_the_former_papers(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_folder(tmp_path / "out", make_of("former"))
    renamed = Path.rename

    def rename(self: Path, to: Path) -> Path:
        if self.name == ".out.new":
            raise KeyboardInterrupt
        return renamed(self, to)

    monkeypatch.setattr(Path, "rename", rename)
    with pytest.raises(KeyboardInterrupt):
        write_folder(tmp_path / "out", make_of("new"))
    assert (tmp_path / "out" / "list").read_text() == "former"
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


@pytest.mark.skipif(os.name != "posix", reason="its pipes and devices are those of this system")
def test_that_a_closed_pipe_a_full_disk_and_a_terminal_without_umlauts_are_no_faults(tmp_path: Path) -> None:
    missing = str(tmp_path / "Größe 100 %")

    def end(stdout: int, *words: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-m", "picklist", *words],
            stdout=stdout,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
            cwd=Path(__file__).parents[2],
            env=os.environ | {"PYTHONIOENCODING": "ascii"},
        )

    reader, writer = os.pipe()
    os.close(reader)
    nobody = end(writer, "tables")
    os.close(writer)
    assert (nobody.returncode, nobody.stderr) == (NOBODY_READS, "")
    plain = end(subprocess.DEVNULL, "check", missing)
    assert plain.returncode == WRONG_USE
    assert plain.stderr.startswith("picklist: there is no folder ")
    if Path("/dev/full").exists():
        with Path("/dev/full").open("wb") as disk:
            full = end(disk.fileno(), "tables")
        assert full.returncode == WRONG_USE
        assert full.stderr == "picklist: what comes out cannot be written: the disk is full; " + (
            "what was there before is unchanged\n"
        )


def test_that_a_damaged_state_or_log_of_cards_is_a_sentence_and_stays_as_it_is(site: Path, tmp_path: Path) -> None:
    build = ("build", str(site), "--out", str(tmp_path / "out"), "--no-chance", *NOW)
    assert run(*build)[0] == FINE
    state = state_path(site)
    whole = state.read_bytes()
    for damaged in (whole[:5000], b"no database at all" * 400):
        state.write_bytes(damaged)
        for words in (build, ("morning", str(site), "--out", str(tmp_path / "m.pdf"), *NOW)):
            code, _, said = run(*words)
            assert code == WRONG_USE, said
            assert "nothing was changed" in said
        assert state.read_bytes() == damaged
    state.write_bytes(whole)
    assert run(*build)[0] == FINE


def test_that_a_damaged_kept_plan_is_a_sentence_and_the_day_is_built_again(site: Path, tmp_path: Path) -> None:
    build = ("build", str(site), "--out", str(tmp_path / "out"), "--no-chance", *NOW)
    morning = ("morning", str(site), "--out", str(tmp_path / "m.pdf"), *NOW)
    assert run(*build)[0] == FINE
    damaged = damage_plan(state_path(site))
    state_path(site).write_bytes(damaged)
    code, _, said = run(*morning)
    assert code == WRONG_USE
    assert f'Build that day again: picklist build "{site}" --day 2026-11-26 --out OUT' in said
    assert state_path(site).read_bytes() == damaged
    code, _, said = run(*build)
    assert (code, "cannot be compared; all lists are printed anew" in said) == (PROBLEMS, True), said
    assert run(*build)[0] == FINE
    assert run(*morning)[0] == FINE


def damage_plan(state: Path) -> bytes:
    """The state file as it is with another byte in the middle of its plan."""
    import sqlite3
    from contextlib import closing

    whole = state.read_bytes()
    with closing(sqlite3.connect(state)) as db, db:
        (plan,) = db.execute("SELECT json FROM plan").fetchone()
        middle = len(plan) // 2
        db.execute("UPDATE plan SET json = ?", (plan[:middle] + bytes([plan[middle] ^ 1]) + plan[middle + 1 :],))
    damaged = state.read_bytes()
    state.write_bytes(whole)
    return damaged


@pytest.mark.parametrize("damage", ["a file", "no database"])
def test_that_a_damaged_folder_of_card_changes_is_a_sentence(damage: str, site: Path, tmp_path: Path) -> None:
    kept = site / "card changes"
    if damage == "a file":
        kept.write_text("mine")
    else:
        kept.mkdir()
        (kept / "changes.sqlite").write_bytes(b"no database at all" * 400)
    for words in (("history", str(site)), ("send", str(site), "S1", "--out", str(tmp_path / "x.xlsx"))):
        code, _, said = run("cards", *words, *NOW)
        assert code in {FINE, WRONG_USE}, said
        assert "Traceback" not in said


def test_that_why_says_stopped_only_of_what_stops_the_list(site: Path) -> None:
    head = small_folder.SCHEDULE
    for more, wanted, other in (("alerts", "notice: ", "stopped"), ("side", "the list is on hold: ", "notice")):
        row = CASE.replace("none", "nowhere") if more == "side" else f"{CASE},unheard of"
        heads = head if more == "side" else f"{head},{more}"
        (site / "Schedule.csv").write_text(f"{heads}\n{row}\n", encoding="utf-8")
        code, said, wrong = run("why", str(site), "M1", "T-WR", *NOW)
        assert code == FINE, wrong
        assert wanted in said
        assert other not in said


def test_that_a_case_number_too_long_to_be_printed_is_a_problem_of_its_cell(site: Path, tmp_path: Path) -> None:
    small_folder.write_folder(site, CASE, CASE.replace("M1", "M" * 300).replace("OR 1", "OR 2"))
    code, _, said = run("build", str(site), "--out", str(tmp_path / "out"), "--no-chance", *NOW)
    assert code == PROBLEMS
    assert (
        "row 3, column case: this text has 300 characters; no list is printed for this row; expected at most 40" in said
    )
    assert [path.name for path in (tmp_path / "out" / "pick-lists").iterdir()] == ["OR 1 0800 M1.pdf"]
