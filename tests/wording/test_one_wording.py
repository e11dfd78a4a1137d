"""Quantities and days are written in one place: no other module puts a unit behind a number by hand."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

PACKAGE = Path(__file__).parents[2] / "picklist"
TEMPLATES = PACKAGE.parent / "templates"
UNIT = re.compile(r" (min|minutes?|h|hours?)\b")
NAMED_DAY = re.compile(r"%-?[aAbBpI]")  # a weekday, a month or a half of the day in words


def hand_made(source: str) -> Iterator[tuple[int, str]]:
    """Line and text of each number with a unit, and of each day in words, that a module makes by itself."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.JoinedStr):
            for value, after in zip(node.values, [*node.values[1:], None], strict=True):
                if not isinstance(value, ast.FormattedValue):
                    continue
                unit = isinstance(after, ast.Constant) and UNIT.match(str(after.value))
                form = ast.unparse(value.format_spec) if value.format_spec else ""
                if unit or NAMED_DAY.search(form):
                    yield node.lineno, ast.unparse(node)
        elif (
            isinstance(node, ast.Call) and "strftime" in ast.unparse(node.func) and NAMED_DAY.search(ast.unparse(node))
        ):
            yield node.lineno, ast.unparse(node)


def test_that_no_module_outside_wording_writes_a_quantity_or_a_day_by_hand() -> None:
    found = [
        f"{path.relative_to(PACKAGE)}:{line}: {text}"
        for path in sorted(PACKAGE.rglob("*.py"))
        if "wording" not in path.parts and path.name != "clock.py"
        for line, text in hand_made(path.read_text(encoding="utf-8"))
    ]
    assert found == [], "use picklist.wording (span, counted, to_spare) or the days of picklist.clock"


def test_that_no_template_puts_a_unit_behind_a_number() -> None:
    templates = [path for path in TEMPLATES.rglob("*") if path.suffix in {".j2", ".typ"}]
    texts = {path.name: path.read_text(encoding="utf-8") for path in templates}
    assert texts
    assert [name for name, text in texts.items() if re.search(r"\}\} (min|minutes?|hours?)\b", text)] == []


def test_that_a_quantity_made_by_hand_is_seen() -> None:
    made = ["f'{late} min late'", "f'{n} minutes'", "f'{day:%a} {day.day}'", "day.strftime('%d %b')"]
    assert [len(list(hand_made(one))) for one in made] == [1, 1, 1, 1]
    assert list(hand_made("f'{span(late)} late'; f'{wall:%H:%M}'; f'{n} minimum'")) == []
