"""The house keeps its shape: imports run one way, and foreign libraries stay in their rooms.

The rules stand in pyproject.toml, as contracts of import-linter.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from importlinter.cli import lint_imports

RULES = Path(__file__).parents[1] / "pyproject.toml"
BROKEN = """
[importlinter]
root_package = picklist
include_external_packages = True

[importlinter:contract:backwards]
name = Data flows backwards
type = layers
layers =
    picklist.model
    picklist.tasks

[importlinter:contract:paper]
name = The terminal draws pages
type = protected
protected_modules = typst
as_packages = False
allowed_importers = picklist.cli
"""


def test_that_imports_run_one_way_and_foreign_libraries_stay_in_their_rooms(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert lint_imports(str(RULES), no_cache=True) == 0, capsys.readouterr().out


def test_that_an_import_that_runs_back_and_a_library_out_of_its_room_are_seen(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "rules.ini").write_text(BROKEN, encoding="utf-8")
    assert lint_imports(str(tmp_path / "rules.ini"), no_cache=True) == 1
    said = capsys.readouterr().out
    assert "Data flows backwards BROKEN" in said
    assert "The terminal draws pages BROKEN" in said
