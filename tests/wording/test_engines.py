"""Engines return kinds and numbers: no module of an engine holds a sentence, which only wording makes."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

PACKAGE = Path(__file__).parents[2] / "picklist"
ROOMS = ("model", "sets", "department", "resolve", "stock", "plan")
EVENING = ("changes", "compare", "content", "held_sets", "left_to_fetch", "match", "revise", "scan_answers",
           "since_built", "suggest")  # fmt: skip
# Names, not sentences: what a table's cell holds, an act of a turnaround as plans keep it, a step, rules of a queue.
NAMES = frozenset(
    {
        "no end",
        "not known",
        "equivalent tray",
        "{} leaves on {}",
        "{} leaves on ",
        "transfer to ",
        "transfer back to ",
        " made ready",
        "earliest deadline",
        "first come",
        "least slack",
        "earliest need",
    }
)
WORD = re.compile(r"[A-Za-z]{2,}")


def sentences(source: str) -> Iterator[tuple[int, str]]:
    """Line and text of each string of two words or more; docstrings, kinds of an enum and faults of the program aside.

    What an f-string puts in is written as ``{}``.
    """
    tree = ast.parse(source)
    aside = {id(part) for node in ast.walk(tree) for part in _aside(node)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant | ast.JoinedStr) and id(node) not in aside:
            text = _text(node)
            if len(WORD.findall(text.replace("{}", " "))) > 1 and " " in text:
                yield node.lineno, text


def _text(node: ast.Constant | ast.JoinedStr) -> str:
    if isinstance(node, ast.Constant):
        return node.value if isinstance(node.value, str) else ""
    return "".join(str(part.value) if isinstance(part, ast.Constant) else "{}" for part in node.values)


def _aside(node: ast.AST) -> Iterator[ast.AST]:
    if isinstance(node, ast.Expr):
        yield node.value  # a docstring
    elif isinstance(node, ast.JoinedStr):
        yield from node.values
    elif isinstance(node, ast.ClassDef) and any("Enum" in ast.unparse(base) for base in node.bases):
        yield from (part for line in node.body if isinstance(line, ast.Assign) for part in ast.walk(line))
    elif isinstance(node, ast.Raise) and re.search(r"\b(AssertionError|ValueError)\(", ast.unparse(node)):
        yield from ast.walk(node)


def test_that_no_engine_holds_a_sentence() -> None:
    modules = [path for room in ROOMS for path in sorted((PACKAGE / room).rglob("*.py"))]
    modules += [PACKAGE / "evening" / f"{name}.py" for name in EVENING]
    found = [
        f"{path.relative_to(PACKAGE)}:{line}: {text}"
        for path in modules
        for line, text in sentences(path.read_text(encoding="utf-8"))
        if text not in NAMES
    ]
    assert len(modules) > 100
    assert found == [], "make it in picklist/wording out of kinds and numbers"


def test_that_a_sentence_is_seen_and_a_kind_is_not() -> None:
    made = ["x = f'{one} is late'", "raise CannotTryError(f'there is no case {one}')", "why = 'no route'"]
    assert [[text for _, text in sentences(one)] for one in made] == [
        ["{} is late"],
        ["there is no case {}"],
        ["no route"],
    ]
    kind = "class Kind(StrEnum):\n    '''What it is.'''\n    A = 'no transfer'\n"
    assert list(sentences(kind + "raise AssertionError('no way here')\nx = f'{a}, {b}'\ny = 'late'")) == []
