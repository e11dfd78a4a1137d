"""Columns and settings have better names now: a site that has the old ones is read as before."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from picklist.inputs import read_site
from picklist.tables.schema import BY_NAME, SETTING_ROWS, TABLES
from tests.inputs.folders import NOW, write_site

RENAMED = {table.name: {one.name: one.was for one in table.columns if one.was} for table in TABLES}
OLD: dict[str, dict[str, tuple[str, ...]]] = {
    "Schedule": {"teams at once": ("fields",)},
    "Items": {"kept back": ("keep back",), "stand-ins": ("substitutes",)},
    "Trays": {"kept ready": ("keep ready",), "stand-ins": ("equals",)},
}


def with_old_names(path: Path, was: dict[str, tuple[str, ...]]) -> None:
    with path.open(encoding="utf-8-sig", newline="") as file:
        header, *rows = list(csv.reader(file))
    header = [was.get(name, (name,))[0] for name in header]
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([header, *rows])


def test_that_these_and_no_other_columns_and_settings_had_another_name() -> None:
    assert {table: names for table, names in RENAMED.items() if names} == OLD
    assert {one.name: one.was for one in SETTING_ROWS if one.was} == {"transport": ("haul",)}


def test_that_a_site_with_the_old_headers_is_the_same_site(tmp_path: Path) -> None:
    folder = write_site(tmp_path / "site", as_csv=frozenset(BY_NAME))
    now, problems = read_site(folder, now=NOW)
    for table, was in OLD.items():
        with_old_names(folder / f"{table}.csv", was)
    settings = folder / "Settings.csv"
    settings.write_text(settings.read_text(encoding="utf-8-sig").replace("transport,", "haul,"), encoding="utf-8")
    before, same_problems = read_site(folder, now=NOW)
    assert now is not None
    assert before == now
    assert same_problems == problems


@pytest.mark.parametrize("table", sorted(OLD))
def test_that_the_old_and_the_new_header_together_are_one_column_twice(tmp_path: Path, table: str) -> None:
    folder = write_site(tmp_path / "site", as_csv=frozenset(BY_NAME))
    (new, (old,)), *_ = OLD[table].items()
    path = folder / f"{table}.csv"
    header, *rows = path.read_text(encoding="utf-8-sig").splitlines()
    header = header if new in header.split(",") else f"{header},{new}"
    path.write_text("\n".join((f"{header},{old}", *(f"{row}," for row in rows))) + "\n", encoding="utf-8")
    _, problems = read_site(folder, now=NOW)
    assert [one.kind for one in problems if one.where.column == new] == ["doubled column"]
