"""The house keeps its shape: imports run one way, and foreign libraries stay in their rooms."""

from __future__ import annotations

import ast
from pathlib import Path

import picklist

ROOT = Path(picklist.__file__).parent

# A module may import from its own floor and from floors beneath it.
FLOORS: tuple[tuple[str, ...], ...] = (
    ("problems", "clock", "letters", "wording", "cautions"),
    ("settings", "problems_report", "labels"),
    ("model",),
    ("tables", "resolve", "stock", "sets", "department"),
    ("inputs", "checks", "messages"),
    ("plan",),
    ("store",),
    ("evening", "upkeep", "documents"),
    ("tasks",),
    ("server",),
    ("cli", "__main__"),
)
# Engines and readers on one floor do not know each other, except as the picture in DEVELOPERS.md says.
APART = ("tables", "resolve", "stock", "sets", "department")
SPOKEN_FOR = {("department", "sets")}

FOREIGN: dict[str, tuple[str, ...]] = {
    "biip": ("labels",),
    "openpyxl": ("tables", "documents", "upkeep", "evening", "store"),
    "icalendar": ("documents",),
    "python_calamine": ("tables",),
    "pandas": ("tables", "documents", "evening", "upkeep"),
    "networkx": ("sets", "department"),
    "highspy": ("sets", "department"),
    "numpy": ("department",),
    "jinja2": ("documents", "server"),
    "typst": ("documents",),
    "pypdfium2": ("documents",),
    "zxingcpp": ("documents",),
    "hl7": ("messages",),
    "starlette": ("server",),
    "uvicorn": ("server",),
    "typer": ("cli",),
    "sqlite3": ("store", "evening", "upkeep"),
}


def modules() -> dict[str, Path]:
    found = {}
    for path in ROOT.rglob("*.py"):
        parts = path.relative_to(ROOT).with_suffix("").parts
        name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
        if name:
            found[name] = path
    return found


def room(module: str) -> str:
    first = module.split(".", maxsplit=1)[0]
    return "cli" if first.startswith("cli") else first


def imported(path: Path) -> set[str]:
    names: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            names |= {node.module} | {f"{node.module}.{alias.name}" for alias in node.names}
    return names


def floor(name: str) -> int:
    for level, rooms in enumerate(FLOORS):
        if name in rooms:
            return level
    raise AssertionError(f"{name} stands on no floor of the house; add it to FLOORS")


def test_that_the_modules_are_found() -> None:
    assert len(modules()) >= 15


def test_that_imports_run_one_way() -> None:
    wrong = []
    for name, path in modules().items():
        here = room(name)
        for target in imported(path):
            if not target.startswith("picklist."):
                continue
            there = room(target.removeprefix("picklist."))
            if there not in {r for rooms in FLOORS for r in rooms}:
                continue
            if floor(there) > floor(here):
                wrong.append(f"{name} imports {target} from a higher floor")
            apart = here in APART and there in APART and here != there
            if apart and (here, there) not in SPOKEN_FOR:
                wrong.append(f"{name} imports {target} from the next room")
    assert not wrong, "\n".join(wrong)


def test_that_foreign_libraries_stay_in_their_rooms() -> None:
    wrong = []
    for name, path in modules().items():
        for target in imported(path):
            library = target.split(".")[0]
            if library in FOREIGN and room(name) not in FOREIGN[library]:
                wrong.append(f"{name} imports {library}")
    assert not wrong, "\n".join(sorted(set(wrong)))
