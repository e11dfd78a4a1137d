"""The invented sites are what they say, and the sample is the one that the lists give."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest
from python_calamine import CalamineWorkbook

from benchmarks.scenario import BIG_DAY, REGION, SAMPLE, make_site, write_site

HOSPITAL = Path(__file__).parents[2] / "sample_inputs" / "hospital"
SEED = 1


def content(path: Path) -> object:
    """What a file says; how a workbook is packed differs between versions of libraries."""
    if path.suffix == ".csv":
        return path.read_text(encoding="utf-8-sig").splitlines()
    book = CalamineWorkbook.from_path(path)
    return {name: book.get_sheet_by_name(name).to_python() for name in book.sheet_names}


def test_that_the_sample_is_what_the_lists_give(tmp_path: Path) -> None:
    written = write_site(tmp_path, make_site(SAMPLE, SEED))
    stale = [p.name for p in written if content(p) != content(HOSPITAL / p.name)]
    assert not stale, "write it again: python -m benchmarks.scenario sample sample_inputs/hospital"
    assert {p.name for p in HOSPITAL.iterdir()} == {p.name for p in written}


def test_that_the_same_seed_gives_the_same_bytes(tmp_path: Path) -> None:
    first = write_site(tmp_path / "first", make_site(SAMPLE, SEED))
    again = write_site(tmp_path / "again", make_site(SAMPLE, SEED))
    assert [p.read_bytes() for p in first] == [p.read_bytes() for p in again]


def test_that_another_seed_gives_another_site() -> None:
    assert make_site(SAMPLE, SEED)["Cards"] != make_site(SAMPLE, SEED + 1)["Cards"]


def test_the_sample_has_the_size_of_a_hospital() -> None:
    tables = make_site(SAMPLE, SEED)
    by_day = Counter(str(row["day"]) for row in tables["Schedule"])
    assert all(33 <= by_day[day] <= 42 for day in ("2026-11-26", "2026-11-27", "2026-11-28"))
    assert len(tables["Rooms"]) == 10
    assert sum(row["role"] == "surgeon" for row in tables["Staff"]) == 20
    assert len(tables["Procedures"]) >= 60
    assert len({row["service"] for row in tables["Procedures"]}) == 9
    assert len(tables["Trays"]) == 70
    assert 150 <= len(tables["Sets"]) <= 180
    assert len(tables["Items"]) >= 450
    assert len({row["pack"] for row in tables["Packs"]}) == 20
    assert 3800 <= len(tables["Cards"]) <= 4200
    assert len(tables["Past cases"]) >= 500


def test_a_big_day_has_two_hundred_cases() -> None:
    tables = make_site(BIG_DAY, SEED)
    assert len(tables["Schedule"]) == 200
    assert len({row["day"] for row in tables["Schedule"]}) == 1


@pytest.mark.slow
def test_a_region_has_a_quarter_of_a_million_rows_with_ids_of_its_campuses() -> None:
    tables = make_site(REGION, SEED)
    assert len(tables["Schedule"]) >= 10_000
    assert len(tables["Cards"]) >= 50_000
    assert sum(map(len, tables.values())) >= 250_000
    cases = [row["case"] for row in tables["Schedule"]]
    assert len(set(cases)) == len(cases)
    surgeons = {row["person"] for row in tables["Staff"]}
    assert {row["surgeon"] for row in tables["Schedule"]} <= surgeons
