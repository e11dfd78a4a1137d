"""The invented sites are what they say, and the sample is the one that the lists give."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from functools import cache
from pathlib import Path

from python_calamine import CalamineWorkbook

from benchmarks.scenario import BIG_DAY, REGION, SAMPLE, make_site, write_site
from benchmarks.scenario.lists import Tables
from tests.patience import tries

HOSPITAL = Path(__file__).parents[2] / "sample_inputs" / "hospital"
SEED = 1


@cache
def sample() -> Tables:
    """The rows of the sample, which nobody changes."""
    return make_site(SAMPLE, SEED)


def content(path: Path) -> object:
    """What a file says; how a workbook is packed differs between versions of libraries."""
    if path.suffix == ".csv":
        return path.read_text(encoding="utf-8-sig").splitlines()
    book = CalamineWorkbook.from_path(path)
    return {name: book.get_sheet_by_name(name).to_python() for name in book.sheet_names}


def test_that_the_sample_is_what_the_lists_give(tmp_path: Path) -> None:
    written = write_site(tmp_path, sample())
    stale = [p.name for p in written if content(p) != content(HOSPITAL / p.name)]
    assert not stale, "write it again: python -m benchmarks.scenario sample sample_inputs/hospital"
    assert {p.name for p in HOSPITAL.iterdir()} == {p.name for p in written}


def test_that_the_same_seed_gives_the_same_rows_in_the_same_order() -> None:
    """That the same rows give the same bytes is held where tables are written."""
    assert repr(make_site(SAMPLE, SEED)) == repr(sample())


def test_that_another_seed_gives_another_site() -> None:
    assert sample()["Cards"] != make_site(SAMPLE, SEED + 1)["Cards"]


def test_the_sample_has_the_size_of_a_hospital() -> None:
    tables = sample()
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


def test_a_region_has_ten_thousand_cases_on_one_day_with_ids_of_its_campuses() -> None:
    """Its campuses are of one size: a usual run makes two of the 60, which is 20,000 rows."""
    campuses = tries(REGION.campuses, 2)
    tables = make_site(replace(REGION, campuses=campuses), SEED)
    assert len(tables["Schedule"]) == campuses * 10_200 / 60
    assert len({row["day"] for row in tables["Schedule"]}) == 1
    assert len(tables["Cards"]) >= campuses * 250_000 / 60
    assert sum(map(len, tables.values())) >= campuses * 580_000 / 60
    cases = [row["case"] for row in tables["Schedule"]]
    assert len(set(cases)) == len(cases)
    surgeons = {row["person"] for row in tables["Staff"]}
    assert {row["surgeon"] for row in tables["Schedule"]} <= surgeons
    owners = {row["tray"] for row in tables["Trays"]}
    lent = {row["tray"] for row in tables["Sets"] if str(row["set"]).startswith("02.")} - {
        one for one in owners if str(one).startswith("02.")
    }
    assert lent == {"01.T-SPSCREW"}, "the second campus has sets of the first one's tray on loan"
