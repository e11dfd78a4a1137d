"""What DEVELOPERS.md says to run is there and runs."""

from __future__ import annotations

import importlib.util
import re
import shlex
from pathlib import Path

import pytest

from benchmarks.__main__ import ALL, main

ROOT = Path(__file__).parents[1]


def commands() -> list[str]:
    """The lines of the last section, without what each is for."""
    section = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").partition("## Running things")[2]
    lines = [line.strip() for line in section.splitlines() if line.startswith("    ")]
    return [part.strip() for line in lines for part in re.split(r"\s{2,}", line)[0].split("&&")]


def test_that_every_command_names_what_there_is() -> None:
    """Modules can be found and scripts run; tools are among what the tests install."""
    installed = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    tools = {"ruff": "ruff", "mypy": "mypy", "lint-imports": "import-linter"}
    seen = set()
    for command in commands():
        words = [word for word in shlex.split(command) if "=" not in word]
        name = Path(words[0]).name
        seen.add(name)
        if name == "python":
            assert words[1] == "-m", command
            assert importlib.util.find_spec(words[2]), command
            seen.add(words[2])
        elif words[0].startswith(".ci/"):
            assert (ROOT / words[0]).stat().st_mode & 0o111, command
        else:
            assert f'"{tools[name]}' in installed, command
    assert {"pytest", "benchmarks", "tests.oracle", "ruff", "mypy", "lint-imports", "run", "versions"} <= seen


@pytest.mark.parametrize("name", ALL)
def test_that_each_measurement_runs_on_a_small_case(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    main([name, "--small"])
    head, *figures = capsys.readouterr().out.splitlines()
    assert head == f"== {name}"
    assert any(re.search(r"\d", line) for line in figures)


def test_that_a_measurement_that_there_is_not_is_said() -> None:
    with pytest.raises(SystemExit, match=r"no measurement is called speed; there are allocate, "):
        main(["speed"])
