"""The commands as an evening uses them, on the sample hospital and on what is not there."""

from __future__ import annotations

import json
import subprocess
import sys
from importlib.metadata import version
from pathlib import Path

import pytest
from typer.testing import CliRunner

import picklist
from picklist.cli.command_line import app
from tests.cli.run import FINE, HOSPITAL, NOW, WRONG_USE, run
from tests.tasks.small_folder import write_folder


def test_the_sample_hospital_has_nothing_to_mend() -> None:
    code, said, _ = run("check", str(HOSPITAL), "--now", NOW)
    assert code == FINE
    assert "Nothing to fix" in said


@pytest.mark.parametrize(
    "words",
    [
        ("build", "no-such-folder", "--out", "x"),
        ("check", "no-such-folder"),
        ("build", str(HOSPITAL), "--out", "x", "--now", "tomorrow"),
        ("build", str(HOSPITAL), "--out", "x", "--now", NOW, "--day", "2031-01-01"),
        ("build", str(HOSPITAL), "--out", "x", "--now", NOW, "--paper", "A3"),
        ("why", str(HOSPITAL), "C-9999", "gown", "--now", NOW),
    ],
)
def test_wrong_use_ends_with_a_sentence_and_code_2(words: tuple[str, ...]) -> None:
    code, _, said = run(*words)
    assert code == WRONG_USE
    assert "picklist: " in said
    assert "Traceback" not in said


def test_a_build_writes_the_evening_and_says_what_conflicts(tmp_path: Path) -> None:
    """One wrist set for two cases, the second 15 minutes after the first: its way round takes 120 min at least."""
    cases = [f"M{n},2026-11-26,OR 1,{start},60,S1,P1,none,planned" for n, start in ((1, "08:00"), (2, "09:15"))]
    sets = "set,tray,side,state,in case,place\nWR-01,T-WR,,on shelf,,A-1-1\n"
    site, out = write_folder(tmp_path / "site", *cases, Sets=sets), tmp_path / "evening"
    code, said, _ = run("build", str(site), "--now", NOW, "--out", str(out), "--json")
    facts = json.loads(said)
    assert code == FINE
    assert facts["day"] == "2026-11-26"
    assert [c["kind"] for c in facts["conflicts"]] == ["short"]
    assert len(list((out / "pick-lists").glob("*.pdf"))) == facts["carts"] == 2


def test_a_second_run_over_an_unchanged_schedule_is_the_next_revision_and_prints_no_list_again(tmp_path: Path) -> None:
    site = write_folder(tmp_path / "site", "M1,2026-11-26,OR 1,07:30,60,S1,P1,none,planned")
    words = ("build", str(site), "--now", NOW, "--out", str(tmp_path / "evening"), "--no-chance", "--json")
    first, again = (json.loads(run(*words)[1]) for _ in range(2))
    assert (first["revision"], again["revision"]) == (1, 2)
    assert again["printed_again"] == []


def test_why_names_the_cell_of_the_card_line() -> None:
    code, said, _ = run("why", str(HOSPITAL), "C-4123", "T-HAND", "--now", NOW)
    assert code == FINE
    assert "cards.xlsx" in said


def test_why_of_a_set_tells_its_way_through_the_department() -> None:
    code, said, _ = run("why", str(HOSPITAL), "WRISTPL-R1", "--now", NOW)
    assert code == FINE
    assert "sterilize" in said
    assert "C-4121" in said
    code, _, told = run("why", str(HOSPITAL), "WRISTPL-R9", "--now", NOW)
    assert code == WRONG_USE
    assert "did you mean WRISTPL" in told


def test_the_version_is_the_packages_own() -> None:
    assert run("--version")[:2] == (FINE, f"picklist {picklist.__version__}\n")
    assert version("picklist") == picklist.__version__


@pytest.mark.parametrize("words", [("-h",), ("why", "-h"), ("cards", "send", "-h")])
def test_every_command_answers_to_a_short_h_as_to_help(words: tuple[str, ...]) -> None:
    code, said, _ = run(*words)
    assert code == FINE
    assert said == run(*words[:-1], "--help")[1]


def test_the_shell_can_complete_the_commands() -> None:
    words = {"_PICKLIST_COMPLETE": "complete_bash", "COMP_WORDS": "picklist che", "COMP_CWORD": "1"}
    done = CliRunner().invoke(app, [], prog_name="picklist", env=words)
    assert done.stdout.split() == ["check"]


def test_that_help_waits_for_no_reader_and_no_engine() -> None:
    """Everything heavy is imported by the command that needs it."""
    program = "import sys, picklist.cli; print(*sorted({name.split('.')[1] for name in sys.modules if '.' in name and \
name.startswith('picklist.')}), *({'numpy', 'pandas', 'openpyxl', 'starlette', 'typst', 'hl7'} & {*sys.modules}))"
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert not {"inputs", "checks", "sets", "plan", "server", "upkeep", "evening"}.intersection(done.stdout.split())
    assert not {"numpy", "pandas", "openpyxl", "starlette", "typst", "hl7"}.intersection(done.stdout.split())
