"""A first evening: the made-up hospital has one of each thing at every hour, and the days of blanks are to come."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from pathlib import Path

import pytest

from picklist.model.conflicts import ConflictKind
from picklist.problems import Severity
from picklist.tables.examples import example_rows
from picklist.tasks.build import plan_day
from picklist.tasks.errors import WrongUse
from picklist.tasks.new_site import make_blank, make_demo
from picklist.tasks.read_folder import load_folder


@pytest.mark.parametrize("hour", [time(0, 20), time(8, 30), time(18, 0), time(23, 50)])
def test_the_made_up_hospital_shows_one_of_each_thing(tmp_path: Path, hour: time) -> None:
    now = datetime.combine(date(2026, 12, 31), hour)
    make_demo(tmp_path / "demo", now)
    plan = plan_day(tmp_path / "demo", now, with_chance=False)
    assert plan.day == date(2027, 1, 1)
    carts = {cart.case.number: cart for cart in plan.carts}
    assert [number for number, cart in carts.items() if cart.stopped] == ["D-106"]
    assert (ConflictKind.SHORT, "D-103") in {(one.kind, one.waiter) for one in plan.conflicts}
    assert any(one.remedies for one in plan.conflicts)
    assert [one.item for one in plan.shortages] == ["200103"]
    assert [line.stand_in_for for line in carts["D-107"].trays] == ["Wrist instruments"]
    assert any(reuse.waiter == "D-105" for reuse in plan.reuses)
    assert [line.need.thing for line in carts["D-102"].goods if "ourniquet" in line.need.name] == ["200110"]


def test_one_cell_of_it_is_wrong_and_says_what_was_meant(tmp_path: Path) -> None:
    now = datetime(2026, 11, 25, 18, 0)  # noqa: DTZ001 - the site's wall time
    make_demo(tmp_path / "demo", now)
    wrong = [one for one in load_folder(tmp_path / "demo", now).problems if one.severity is not Severity.NOTICE]
    assert [(one.where.cell, one.nearest, one.cases) for one in wrong] == [("C8", ("OR 2",), ("D-106",))]


@pytest.mark.parametrize("make", [make_blank, make_demo])
def test_nothing_is_written_where_something_lies(tmp_path: Path, make: object) -> None:
    (tmp_path / "mine.txt").touch()
    with pytest.raises(WrongUse, match="not an empty folder"):
        make(tmp_path, datetime(2026, 11, 25, 18, 0))  # type: ignore[operator] # noqa: DTZ001
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]


@pytest.mark.parametrize("today", [date(2026, 12, 24), date(2026, 12, 25), date(2028, 2, 28), date(2031, 12, 31)])
def test_the_days_of_the_blank_workbooks_are_to_come(today: date) -> None:
    rows = example_rows(today)
    assert [row["day"] for row in rows["Schedule"]] == [today + timedelta(days=1)]
    assert [row["day"] > today for row in rows["Holidays"]] == [True]
    assert [row["from"] <= today for row in rows["Cards"]] == [True]
    assert [row["expiry"] > f"{today:%Y-%m}" for row in rows["Lots"]] == [True]
