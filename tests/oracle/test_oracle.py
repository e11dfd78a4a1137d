"""Nothing gets lost: what is planned, printed and said for known days stays as it is, or the change is meant.

A difference is either a mistake, or stands in CHANGELOG.md and is written anew with ``python -m tests.oracle``.
"""

from __future__ import annotations

import difflib
from pathlib import Path

import pytest

from tests.oracle.__main__ import EXPECTED
from tests.oracle.days import ORACLE

SHOWN = 60


@pytest.mark.parametrize("day", ORACLE)
def test_that_the_day_is_planned_printed_and_said_as_before(day: str, tmp_path: Path) -> None:
    found = ORACLE[day](tmp_path)
    expected = {path.stem: path.read_text(encoding="utf-8").splitlines() for path in (EXPECTED / day).glob("*.txt")}
    assert sorted(found) == sorted(expected)
    changes = [line for paper in expected for line in _difference(paper, expected[paper], found[paper])]
    assert not changes, "\n".join(["", *changes[:SHOWN], f"{len(changes)} lines differ or stand beside such a line"])


def test_that_the_oracle_has_something_to_say() -> None:
    assert sum(len(path.read_bytes()) for path in EXPECTED.rglob("*.txt")) > 500_000


def _difference(paper: str, before: list[str], after: list[str]) -> list[str]:
    after = "\n".join(after).splitlines()
    return list(difflib.unified_diff(before, after, f"expected {paper}", f"now {paper}", n=0, lineterm=""))
