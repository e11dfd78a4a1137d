"""One command, run as a user would."""

from __future__ import annotations

from pathlib import Path

from typer.testing import CliRunner

from picklist.cli.command_line import app

HOSPITAL = Path(__file__).parents[2] / "sample_inputs" / "hospital"
NOW = "2026-11-25 18:00"
FINE, PROBLEMS, WRONG_USE = 0, 1, 2


def run(*words: str) -> tuple[int, str, str]:
    """Exit code, standard output and standard error."""
    result = CliRunner().invoke(app, list(words))
    return result.exit_code, result.stdout, result.stderr
