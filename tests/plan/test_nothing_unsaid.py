"""A column or a table that says nothing either changes nothing, or is named: no plan differs in silence."""

from __future__ import annotations

import json
import pickle
from collections.abc import Callable
from datetime import UTC, date, datetime
from functools import cache, partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest

from picklist.checks import check_site
from picklist.documents.plan_json import plan_to_json
from picklist.inputs import read_site
from picklist.model.site import Site
from picklist.plan import PlanRequest, make_plan
from picklist.problems import Problem, Severity
from picklist.tables.schema import TABLES
from tests.patience import THOROUGH
from tests.plan.rich_site import rich_tables, write_csv

NOW = datetime(2026, 11, 25, 18, 0, tzinfo=UTC)
DAY = date(2026, 11, 26)
OPTIONAL = [
    (table.name, column.name)
    for table in TABLES
    for column in table.columns
    if not column.required and (table.name, column.name) != ("Settings", "meaning")
]
Cells = list[list[str]]
NOT_OF_THE_DAY = frozenset({"problems", "notices", "where"})
PLANNED: dict[bytes, tuple[Any, tuple[Problem, ...]]] = {}


def blank(rows: Cells, place: int) -> None:
    for row in rows[1:]:
        row[place] = ""


def missing(rows: Cells, place: int) -> None:
    for row in rows:
        del row[place]


def misspelled(rows: Cells, place: int) -> None:
    written = rows[0][place]
    rows[0][place] = written[:2] + written[1:]


def header_lost(rows: Cells, place: int) -> None:
    rows[0][place] = ""


def read(tables: dict[str, Cells]) -> tuple[Site, tuple[Problem, ...]]:
    with TemporaryDirectory() as folder:
        site, problems = read_site(write_csv(Path(folder), tables), now=NOW)
    assert site is not None
    return site, problems


def checked(tables: dict[str, Cells]) -> tuple[Site, tuple[Problem, ...]]:
    site, problems = read(tables)
    return site, (*problems, *check_site(site, NOW))


def planned(site: Site, found: tuple[Problem, ...]) -> tuple[Any, tuple[Problem, ...]]:
    """What is planned, without what is said of the sheets; and everything that is said."""
    stopping = tuple(one for one in found if one.severity is not Severity.NOTICE)
    key = pickle.dumps((site, stopping))
    if key not in PLANNED:  # a column that is blank and one that is missing mostly leave the same site
        plan = make_plan(site, found, PlanRequest(day=DAY, now=NOW, with_chance=False, with_remedies=False))
        PLANNED[key] = bare(json.loads(plan_to_json(plan))), tuple(one for one in plan.problems if one not in found)
    planned, more = PLANNED[key]
    return planned, (*found, *more)


def bare(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: bare(one) for key, one in value.items() if key not in NOT_OF_THE_DAY}
    return [bare(one) for one in value] if isinstance(value, list) else value


@cache
def sound() -> tuple[Any, tuple[Problem, ...]]:
    return planned(*checked(rich_tables()))


def spoiled(spoil: Callable[[Cells, int], None], *places: tuple[str, str]) -> dict[str, Cells]:
    """The sound tables, of which these columns are spoiled."""
    tables = rich_tables()
    for table, column in places:
        spoil(tables[table], tables[table][0].index(column))
    return tables


@cache
def rounds() -> tuple[tuple[tuple[str, str], ...], ...]:
    """The optional columns in few groups, each of columns of other tables and other names; in a thorough run singly.

    A column that is not named among the others of its group is tried alone.
    """
    if THOROUGH:
        return tuple((one,) for one in OPTIONAL)
    found: list[dict[str, tuple[str, str]]] = []
    for table, column in OPTIONAL:
        free = next((one for one in found if column not in one and table not in dict(one.values())), None)
        if free is None:
            found.append(free := {})
        free[column] = (table, column)
    return tuple(tuple(one.values()) for one in found)


def named(problems: tuple[Problem, ...], column: str) -> list[Problem]:
    """New problems that name the column: by its place, in quotation marks, or as what was meant."""
    return [
        one
        for one in problems
        if one not in sound()[1]
        and (one.where.column == column or column in one.nearest or f"'{column}'" in one.sentence())
    ]


def is_meant(problems: tuple[Problem, ...], column: str) -> bool:
    """Whether a problem that is more than a notice says that the column was probably meant."""
    grave = [one for one in named(problems, column) if one.severity is not Severity.NOTICE]
    return any(column in one.nearest for one in grave)


def silent(tables: dict[str, Cells], is_named: Callable[[tuple[Problem, ...]], object]) -> bool:
    """Whether the plan differs and nothing is named; a plan is only made where reading and checking name nothing."""
    site, found = checked(tables)
    if is_named(found):
        return False
    plan, problems = planned(site, found)
    return plan != sound()[0] and not is_named(problems)


def test_that_the_site_says_something_in_every_column() -> None:
    for table, column in OPTIONAL:
        rows = rich_tables()[table]
        assert any(row[rows[0].index(column)] for row in rows[1:]), f"{table}.{column}"


@pytest.mark.parametrize("spoil", [missing, blank])
def test_that_a_column_without_content_changes_nothing_or_is_named(spoil: Callable[[Cells, int], None]) -> None:
    found = []
    for group in rounds():
        _, problems = checked(spoiled(spoil, *group))
        for table, column in group:
            names = partial(named, column=column)
            if not names(problems) and silent(spoiled(spoil, (table, column)), names):
                found.append(f"{table}.{column}")
    assert found == []


@pytest.mark.parametrize("spoil", [misspelled, header_lost])
def test_that_a_header_that_is_wrong_is_a_problem_with_the_one_meant(spoil: Callable[[Cells, int], None]) -> None:
    for group in rounds():
        _, problems = read(spoiled(spoil, *group))
        for table, column in group:
            assert is_meant(problems, column) or is_meant(read(spoiled(spoil, (table, column)))[1], column), (
                f"{table}.{column}"
            )


@pytest.mark.parametrize("table", [table.name for table in TABLES if not table.required])
def test_that_a_missing_table_changes_nothing_or_is_named(table: str) -> None:
    tables = rich_tables()
    del tables[table]

    def is_named(problems: tuple[Problem, ...]) -> bool:
        return any(table in one.sentence() for one in problems if one not in sound()[1])

    assert not silent(tables, is_named)


def test_that_a_missing_hold_is_one_problem_and_not_one_for_each_line() -> None:
    tables = spoiled(missing, ("Cards", "hold"))
    _, problems = read(tables)
    grave = [one for one in problems if one not in sound()[1] and one.severity is not Severity.NOTICE]
    assert [(one.kind, one.where.column) for one in grave] == [("missing column", "hold")]
    assert set(grave[0].cases) == {"C-1", "C-2", "C-5"}
