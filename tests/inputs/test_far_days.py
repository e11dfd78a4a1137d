"""A year that is typed wrong is a problem with its cell, and never part of a plan; an open end is no mistake."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from picklist.inputs import read_site
from picklist.model.expiry import Expires
from picklist.model.site import Site
from picklist.problems import Problem
from picklist.tasks.errors import WrongUse
from picklist.tasks.moment import Meant
from picklist.tasks.read_folder import load_folder
from tests.inputs.flaws import add, both, put
from tests.inputs.folders import DAY, NOW, Rows, besides_left_out, write_site

SCHEDULE = f"{DAY.isoformat()} to {DAY.isoformat()}"


def read(folder: Path, change: Callable[[Rows], None]) -> tuple[Site, tuple[Problem, ...]]:
    site, problems = read_site(write_site(folder, change), now=NOW)
    assert site is not None
    return site, besides_left_out(problems)


def wall(text: str) -> datetime:
    return datetime.fromisoformat(text)


AWAY = {"set": "KNEE-07", "tray": "T-KNEE", "state": "away"}


@pytest.mark.parametrize(
    ("change", "place", "nearest"),
    [
        (add("Sets", **AWAY, back_at=wall("2062-11-26 08:00")), ("Sets", 4, "back at"), ("2026-11-26",)),
        (add("Sets", **AWAY, back_at=wall("2027-11-26 08:00")), ("Sets", 4, "back at"), ("2026-11-26",)),
        (put("Sets", 3, step_since=wall("2025-11-25 16:30")), ("Sets", 3, "step since"), ("2026-11-25",)),
        (put("Sets", 2, recorded_sterile_at=wall("2009-11-25 16:30")), ("Sets", 2, "recorded sterile at"), None),
        (put("Sets", 2, recorded_sterile_until=date(2062, 12, 1)), ("Sets", 2, "recorded sterile until"), None),
        (put("Sets", 2, return_by=wall("2062-12-01 08:00")), ("Sets", 2, "return by"), None),
        (add("Holidays", day=date(2062, 12, 25)), ("Holidays", 2, "day"), ("2026-12-25",)),
        (put("Cards", 2, **{"from": date(2062, 1, 1)}), ("Cards", 2, "from"), ("2026-01-01",)),
    ],
)
def test_a_day_far_from_the_schedule_is_a_problem_at_its_cell(
    tmp_path: Path, change: Callable[[Rows], None], place: tuple[str, int, str], nearest: tuple[str, ...] | None
) -> None:
    site, problems = read(tmp_path, change)
    (found,) = problems
    assert found.kind == "day far from the schedule"
    assert (found.where.sheet, found.where.row, found.where.column) == place
    assert SCHEDULE in found.message
    if nearest is not None:
        assert found.nearest == nearest
    if place[0] == "Sets":
        assert len(site.sets) == (2 if place[1] == 4 else 1), "a set that cannot be trusted is left out"


def test_a_case_on_a_day_far_from_the_others_is_stopped_and_makes_no_plan_of_years(tmp_path: Path) -> None:
    more = {
        "room": "OR 2",
        "start": "08:00",
        "minutes": 60,
        "surgeon": "S02",
        "procedures": ("HERNIA",),
        "side": "none",
    }
    change = both(add("Schedule", case="C-3", day=DAY, **more), put("Schedule", 3, day=date(2062, 11, 26)))
    site, problems = read(tmp_path, change)
    (found,) = problems
    assert (found.kind, found.where.row, found.where.column) == ("day far from the schedule", 3, "day")
    assert found.cases == ("C-2",)
    assert [case.number for case in site.cases] == ["C-1", "C-3"]


@pytest.mark.parametrize("moment", ["0001-01-01 00:00", "9999-12-31 23:59", "1970-01-01 08:00"])
@pytest.mark.parametrize("as_text", [False, True])
def test_no_year_of_a_moment_ends_in_a_crash(tmp_path: Path, moment: str, as_text: bool) -> None:
    cell: Any = moment if as_text else wall(moment)
    if not as_text and cell.year < 1900:
        cell = moment  # a spreadsheet knows no such day
    _, problems = read(tmp_path, add("Sets", **AWAY, back_at=cell))
    assert [(one.kind, one.where.cell) for one in problems] == [("date out of range", "I4")]


@pytest.mark.parametrize("end", [date(9999, 12, 31), "9999-12-31", "12/31/9999", 2958465])
def test_an_open_end_may_be_written_as_the_last_day_of_all(tmp_path: Path, end: Any) -> None:
    change = both(put("Cards", 2, until=end), put("Lots", 2, expiry=end), put("Sets", 2, recorded_sterile_until=end))
    site, problems = read(tmp_path, change)
    assert problems == ()
    assert site.card_lines[0].ends == date(9999, 12, 31)
    assert site.lots[0].expiry is Expires.NEVER
    assert site.sets["KNEE-01"].recorded_until is None


@pytest.mark.parametrize("days", [-20000, -365, -200, 200, 365, 13149])
def test_a_time_long_before_or_after_the_cases_is_asked_about(tmp_path: Path, days: int) -> None:
    write_site(tmp_path)
    with pytest.raises(WrongUse, match=r'--far as well. If not.* --now "2026-\d\d-\d\d 1[78]:00"'):
        load_folder(tmp_path, NOW + timedelta(days=days))
    assert load_folder(tmp_path, Meant.of(NOW + timedelta(days=days))).site is not None


@pytest.mark.parametrize("days", [-150, 150])
def test_a_time_within_half_a_year_of_the_cases_is_no_question(tmp_path: Path, days: int) -> None:
    write_site(tmp_path)
    assert load_folder(tmp_path, NOW + timedelta(days=days)).site is not None


def test_a_site_whose_cases_are_all_over_may_look_at_its_cards_years_later(tmp_path: Path) -> None:
    change = both(put("Schedule", 2, status="done"), put("Schedule", 3, status="cancelled"))
    write_site(tmp_path, change)
    assert load_folder(tmp_path, NOW + timedelta(days=2000)).site is not None
