"""The recipe of DEVELOPERS.md for a new column, followed in a copy of the program: three places, and that is all."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

import picklist

ROOT = Path(picklist.__file__).parent.parent
COLUMN = "weight limit lb"
# Runs in the copy: a tray of 20 lb whose own limit is 18, and one whose limit nobody can read.
ASK = f"""
import json, sys
from pathlib import Path
from openpyxl import load_workbook
from picklist.checks import check_site
from picklist.inputs import read_site
from picklist.tables.blank import write_blank
from picklist.tables.json_schema import site_schema
from picklist.tables.reference import reference_page
from picklist.tables.write import write_tables
from tests.inputs.folders import NOW, sound_rows

folder = Path(sys.argv[1])
rows = sound_rows()
rows["Trays"][0] |= {{"weight lb": 20, "{COLUMN}": 18}}
rows["Trays"][1] |= {{"weight lb": 20, "{COLUMN}": "eighteen or so"}}
write_tables(folder / "site", rows)
site, problems = read_site(folder / "site", now=NOW)
blank = next(path for path in write_blank(folder / "blank", NOW.date()) if path.stem == "site")
print(json.dumps({{
    "limits": [tray.weight_limit_lb for tray in site.trays.values()],
    "cells": [[one.kind, one.where.column] for one in problems if one.where.column == "{COLUMN}"],
    "checked": [[one.kind, one.where.row, one.expected] for one in check_site(site, NOW)],
    "blank": [cell.value for cell in load_workbook(blank)["Trays"][1]],
    "reference": reference_page(),
    "schema": site_schema()["properties"]["Trays"]["items"]["properties"],
}}))
"""


def recipe() -> dict[str, list[tuple[str, str]]]:
    """The patch of the recipe: for each file, texts and what takes their place."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    found = re.search(r"\*\*Add a column\.\*\*.*?```diff\n(.*?)```", text, re.DOTALL)
    assert found, "DEVELOPERS.md has no recipe with a patch"
    patch: dict[str, list[tuple[str, str]]] = {}
    for file, body in re.findall(r"^--- (\S+)\n(.*?)(?=^--- |\Z)", found[1], re.DOTALL | re.MULTILINE):
        for hunk in re.split(r"^@@\n", body, flags=re.MULTILINE):
            lines = hunk.splitlines()
            before, after = ("\n".join(one[1:] for one in lines if one[:1] != skipped) for skipped in "+-")
            patch.setdefault(file, []).append((before, after))
    return patch


@pytest.fixture(scope="module")
def seen(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """What the program with the column says of a site that uses it."""
    copy = tmp_path_factory.mktemp("recipe")
    for name in ("picklist", "tests/inputs"):
        shutil.copytree(ROOT / name, copy / name, ignore=shutil.ignore_patterns("__pycache__"))
    for file, changes in recipe().items():
        text = (copy / file).read_text(encoding="utf-8")
        for before, after in changes:
            assert text.count(before) == 1, f"{file}: the recipe's lines are not there once: {before}"
            text = text.replace(before, after)
        (copy / file).write_text(text, encoding="utf-8")
    run = subprocess.run(
        [sys.executable, "-c", ASK, str(copy / "out")],
        capture_output=True,
        text=True,
        cwd=copy,
        env={**os.environ, "PYTHONPATH": str(copy)},
        check=False,
    )
    assert run.returncode == 0, run.stderr
    made: dict[str, Any] = json.loads(run.stdout)
    return made


def test_that_a_new_column_touches_three_places_at_most() -> None:
    assert [file.split("/")[1] for file in recipe()] == ["tables", "model", "checks"]


def test_that_the_column_is_read_into_the_model_and_used(seen: dict[str, Any]) -> None:
    assert seen["limits"] == [18, None]
    assert ["heavy tray", 2, "at most 18 lb with contents; local policy decides"] in seen["checked"]


def test_that_a_cell_which_cannot_be_read_is_reported(seen: dict[str, Any]) -> None:
    assert seen["cells"] == [["not a number", COLUMN]]


def test_that_blank_book_reference_and_schema_have_it(seen: dict[str, Any]) -> None:
    assert COLUMN in seen["blank"]
    assert (
        f"| **{COLUMN}** | number | may be empty | 0 to 60 | Heaviest that it may be by local policy | 22 |"
        in (seen["reference"])
    )
    assert seen["schema"][COLUMN] == {
        "type": "number",
        "description": "Heaviest that it may be by local policy",
        "minimum": 0,
        "maximum": 60,
    }
