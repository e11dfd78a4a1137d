"""Labels against the test vectors of the GS1 syntax dictionary, all of them of the kinds that a supply's label has."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest

from picklist.labels.gs1 import read_elements, read_gs1
from picklist.labels.label import LabelError, has_right_check_digit

FILE = Path(__file__).parent / "data" / "gs1_vectors.txt"
VECTORS = [
    (linter, verdict == "pass", str(json.loads(value)))
    for linter, verdict, value in (
        line.split(" ", 2) for line in FILE.read_text(encoding="utf-8").splitlines() if not line.startswith("#")
    )
]
COUNTS = {"yymmd0": 61, "csum": 14, "cset82": 264}
TODAY = date(2026, 11, 25)


def vectors(linter: str) -> list[tuple[bool, str]]:
    return [(passes, value) for name, passes, value in VECTORS if name == linter]


def is_read(text: str) -> bool:
    try:
        read_gs1(text, TODAY)
    except LabelError:
        return False
    return True


def test_that_all_vectors_are_there() -> None:
    assert {linter: len(vectors(linter)) for linter in COUNTS} == COUNTS


@pytest.mark.parametrize(("identifier", "linter"), [("17", "yymmd0"), ("11", "yymmd0")])
def test_dates_of_expiry_and_production(identifier: str, linter: str) -> None:
    wrong = [value for passes, value in vectors(linter) if is_read(f"({identifier}){value}") != passes]
    assert wrong == []


def test_check_digits() -> None:
    wrong = [value for passes, value in vectors("csum") if value and has_right_check_digit(value) != passes]
    assert wrong == []


def test_item_numbers_of_14_digits() -> None:
    numbers = [(passes, value) for passes, value in vectors("csum") if len(value) == 14]
    assert [is_read(f"01{value}") for _, value in numbers] == [passes for passes, _ in numbers]


@pytest.mark.parametrize("identifier", ["10", "21"])
def test_the_characters_of_lots_and_serial_numbers(identifier: str) -> None:
    """At most 20 characters; an empty value is none; a separator ends a value, and is no character of it."""
    fitting = [(passes, value) for passes, value in vectors("cset82") if 0 < len(value) <= 20 and "\x1d" not in value]
    wrong = [value for passes, value in fitting if takes_whole(identifier, value) != passes]
    assert len(fitting) > 250
    assert wrong == []


def takes_whole(identifier: str, value: str) -> bool:
    """Whether the plain form of a label is read, and the value is the whole of it."""
    try:
        return read_elements(f"]d2{identifier}{value}") == ((identifier, value),)
    except LabelError:
        return False
