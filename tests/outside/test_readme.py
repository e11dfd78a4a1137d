"""README.md here lists every outside check, and no test that is not there."""

from __future__ import annotations

import ast
import re
from pathlib import Path

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
ROW = re.compile(r"^\| (.+) \| (.+) \| (tests/[\w/]+\.py)::(\w+) \|$")


def rows() -> list[tuple[str, str]]:
    lines = (HERE / "README.md").read_text(encoding="utf-8").splitlines()
    return [(found[3], found[4]) for line in lines if (found := ROW.match(line))]


def names_in(file: Path) -> set[str]:
    tree = ast.parse(file.read_text(encoding="utf-8"))
    return {node.name for node in tree.body if isinstance(node, ast.FunctionDef) and node.name.startswith("test_")}


def test_that_each_row_names_a_test() -> None:
    assert [f"{file}::{name}" for file, name in rows() if name not in names_in(ROOT / file)] == []


def test_that_each_test_of_this_folder_has_its_row() -> None:
    listed = set(rows())
    here = {(f"tests/outside/{file.name}", name) for file in HERE.glob("test_*.py") for name in names_in(file)}
    own = {name for name in here if name[0].endswith("test_readme.py")}
    assert sorted(here - own - listed) == []
    assert len(rows()) == len(listed)
