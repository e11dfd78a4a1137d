"""The README names every command, and no other; its two commands stand each on one line."""

from __future__ import annotations

import re
from pathlib import Path

from picklist.cli.command_line import app

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")


def test_that_every_command_stands_in_the_readme() -> None:
    told = set(re.findall(r"^\| `picklist (\w+)", README, flags=re.MULTILINE))
    there = {command.name for command in app.registered_commands} | {group.name for group in app.registered_groups}
    assert told == there


def test_that_the_two_commands_set_up_everything_on_one_line() -> None:
    lines = [line.strip() for line in README.splitlines() if line.startswith("    python3 -m venv")]
    main_job, tests = lines
    assert "picklist build sample_inputs/hospital" in main_job
    assert "pytest" in tests
    for line in lines:
        assert "constraints.txt" in line


def test_that_pictures_and_files_it_names_are_there() -> None:
    root = Path(__file__).parents[2]
    for target in re.findall(r"!\[[^\]]*\]\(([^)]+)\)", README):
        assert (root / target).is_file(), target
