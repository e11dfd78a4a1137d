"""Worked examples of our own, worked by hand and by script (not published), as whole days from files to plan.

Each folder in ``days`` is one scenario: tables that differ from the common ``house`` and an
``expected.json`` with the answer, the wrong answers of a naive reckoning, and words that must
not be said. A new folder is a new test.
"""

from __future__ import annotations

import json
import shutil
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest

from picklist.model.plan import Plan
from picklist.plan import PlanRequest, make_plan
from picklist.problems import must_be_fixed
from picklist.tasks.read_folder import load_folder
from tests.examples.facts import facts_of

HERE = Path(__file__).parent
DAYS = sorted(path for path in (HERE / "days").iterdir() if path.is_dir())


@pytest.mark.parametrize("day", DAYS, ids=lambda path: path.name)
def test_that_the_day_gets_the_answer_and_not_the_naive_one(day: Path, tmp_path: Path) -> None:
    expected = json.loads((day / "expected.json").read_text(encoding="utf-8"))
    folder = lay_out(day, tmp_path)
    assert expected["now"]
    for now in expected["now"]:
        facts = facts_of(plan_of(folder, datetime.fromisoformat(now), date.fromisoformat(expected["day"])))
        assert missing(expected["answer"], facts) == []
        assert still_there(expected["naive"], facts) == []
        assert [word for word in expected["never_said"] if word in " ".join(facts["says"].values())] == []


def test_that_the_examples_are_found() -> None:
    assert {path.name[0] for path in DAYS} >= set("12345678")


def lay_out(day: Path, folder: Path) -> Path:
    """The tables of the house, those of the day in place of theirs."""
    for source in (*(HERE / "house").glob("*.csv"), *day.glob("*.csv")):
        shutil.copy(source, folder / source.name)
    return folder


def plan_of(folder: Path, now: datetime, day: date) -> Plan:
    loaded = load_folder(folder, now)
    assert loaded.site is not None
    assert not must_be_fixed(loaded.problems), [f"{p.where}: {p.sentence()}" for p in loaded.problems]
    return make_plan(loaded.site, loaded.problems, PlanRequest(day=day, now=loaded.now))


def missing(wanted: Any, found: Any, path: str = "") -> list[str]:
    """Every leaf of ``wanted`` that the facts do not hold; a list of words must all stand in a text."""
    if isinstance(wanted, dict):
        if not isinstance(found, dict):
            return [f"{path}: nothing there"]
        return [line for key, value in wanted.items() for line in missing(value, found.get(key), f"{path}/{key}")]
    if isinstance(wanted, list):
        return [f"{path}: {word!r} not in {found!r}" for word in wanted if word not in (found or "")]
    return [] if wanted == found else [f"{path}: {found!r}, wanted {wanted!r}"]


def still_there(naive: Any, found: Any, path: str = "") -> list[str]:
    """Every leaf of ``naive`` that the facts hold, or that they know nothing of (so that it proves nothing)."""
    if isinstance(naive, dict):
        if not isinstance(found, dict):
            return [f"{path}: nothing there to be wrong"]
        return [line for key, value in naive.items() for line in still_there(value, found.get(key), f"{path}/{key}")]
    if found is None:
        return [f"{path}: nothing there to be wrong"]
    return [f"{path}: the naive {naive!r}"] if naive == found else []
