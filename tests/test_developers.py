"""What DEVELOPERS.md says to run is there and runs."""

from __future__ import annotations

import importlib.util
import re
import runpy
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from benchmarks.__main__ import ALL, main
from tests.hard import __main__ as hard
from tests.measuring import UNMEASURED
from tests.oracle import __main__ as oracle

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


def test_that_the_oracle_writes_what_a_day_says_and_nothing_is_left_of_before(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(oracle, "EXPECTED", tmp_path)
    monkeypatch.setattr(oracle, "ORACLE", {"a day": lambda _: {"plan": ["CART C-1", "tray T-1"]}})
    (tmp_path / "a day").mkdir()
    (tmp_path / "a day" / "former.txt").write_text("a paper that there is no longer")
    oracle.main([])
    assert {path.name: path.read_text() for path in (tmp_path / "a day").iterdir()} == {
        "plan.txt": "CART C-1\ntray T-1\n"
    }


def test_that_the_spoiled_inputs_say_how_they_are_asked_for(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """What it does stands in tests/hard, which tries some inputs at every door."""
    monkeypatch.setattr(sys, "argv", ["hard", "--help"])
    with pytest.raises(SystemExit) as end:
        hard.main()
    assert end.value.code == 0
    assert "--door" in capsys.readouterr().out


@pytest.mark.skipif(sys.platform == "win32", reason="its scripts are for a shell that there is not")
def test_that_every_script_of_ci_is_one_that_the_shell_can_read() -> None:
    scripts = [path for path in sorted((ROOT / ".ci").iterdir()) if path.is_file() and path.suffix != ".py"]
    assert {"run", "versions"} <= {path.name for path in scripts}
    for script in scripts:
        subprocess.run(["bash", "-n", str(script)], check=True)


def test_that_what_the_scripts_of_ci_call_is_there() -> None:
    """Tests, rooms, scripts and tools that they name; and the README has the one command that `run` looks for."""
    texts = {path.name: path.read_text(encoding="utf-8") for path in (ROOT / ".ci").iterdir() if path.is_file()}
    named = {path for text in texts.values() for path in re.findall(r"(?<![\w/.])(?:tests|\.ci)/[\w/.]+\w", text)}
    assert len(named) > 6
    assert [path for path in sorted(named) if not (ROOT / path).exists()] == []

    tools = {tool for text in texts.values() for tool in re.findall(r"(?:\.venv|\$folder)/bin/([\w-]+)", text)}
    installed = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    packages = {"lint-imports": "import-linter", "python": "pytest", "pip": "pytest"}
    assert [tool for tool in sorted(tools) if f'"{packages.get(tool, tool)}>=' not in installed] == []
    assert {"coverage", "mypy", "ruff", "lint-imports"} <= tools

    pattern = re.findall(r"s/\^(.*)\$/", texts["run"])[0].replace(r"\(", "(").replace(r"\)", ")")
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert len(re.findall(f"^{pattern}$", readme, flags=re.MULTILINE)) == 1


def test_that_what_is_not_measured_is_there() -> None:
    assert [name for name in UNMEASURED if not (ROOT / "tests" / name).exists()] == []


def test_that_the_lowest_versions_are_no_higher_than_those_that_were_tested(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(ROOT)
    runpy.run_path(str(ROOT / ".ci" / "lowest.py"))
    constraints = (ROOT / "constraints.txt").read_text().lower().splitlines()
    tested = dict(line.split("==") for line in constraints if "==" in line)
    lowest = dict(line.split("==") for line in capsys.readouterr().out.splitlines())
    assert {"typst", "highspy", "openpyxl"} <= lowest.keys()
    assert [name for name, bound in lowest.items() if numbers(bound) > numbers(tested[name])] == []


def numbers(version: str) -> list[int]:
    return [int(part) for part in version.split(".") if part.isdigit()]
