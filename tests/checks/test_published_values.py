"""Checks against published values; each names its source."""

from __future__ import annotations

from pathlib import Path

import pytest

from picklist.checks import check_site
from picklist.checks.cycles import least_for
from picklist.labels.label import check_digit
from picklist.settings import CycleTable
from tests.inputs.folders import NOW, Rows, besides_left_out, read_changed

STEAM_ROW = 3  # the row of the sterilizer step in the sheet Routes


@pytest.mark.parametrize(
    ("cycle", "temperature", "exposure", "drying"),
    [
        # CDC guideline 2008, Table 7, wrapped instruments
        ("gravity", 121, 30, 15),
        ("gravity", 132, 15, 15),
        ("pre-vacuum", 132, 4, 20),
        ("dynamic air removal", 132, 4, 20),
        # ours: 134 °C is at least as warm as 132; a word that does not tell gets the shorter one
        ("pre-vacuum", 134, 4, 20),
        ("", 132, 4, 20),
        ("", 121, 30, 15),
    ],
)
def test_the_least_cycle(cycle: str, temperature: float, exposure: int, drying: int) -> None:
    least = least_for(cycle, temperature)
    assert least is not None
    assert (least.exposure, least.drying) == (exposure, drying)


@pytest.mark.parametrize(
    ("table", "cycle", "temperature", "exposure", "drying"),
    [
        # EN 285:2015 as reviewed in Zentralsterilisation 1/2020; Central Sterilising Club (2025), table 10.2
        (CycleTable.EN_285, "pre-vacuum", 134, 3, 0),
        (CycleTable.EN_285, "pre-vacuum", 126, 10, 0),
        (CycleTable.EN_285, "pre-vacuum", 121, 15, 0),
        # ANSI/AAMI ST79, exposures as one instrument's instructions quote them; the rest from memory
        (CycleTable.ST79, "pre-vacuum", 132, 4, 20),
        (CycleTable.ST79, "pre-vacuum", 135, 3, 16),
        (CycleTable.ST79, "gravity", 135, 10, 30),
    ],
)
def test_the_least_cycle_of_other_tables(
    table: CycleTable, cycle: str, temperature: float, exposure: int, drying: int
) -> None:
    least = least_for(cycle, temperature, table)
    assert least is not None
    assert (least.exposure, least.drying) == (exposure, drying)


@pytest.mark.parametrize(
    ("table", "changes", "found"),
    [
        ("CDC 2008", {"temperature C": 134, "exposure minutes": 3, "drying minutes": 20}, ["notice"]),
        ("EN 285", {"temperature C": 134, "exposure minutes": 3, "drying minutes": 5}, []),
        ("EN 285", {"temperature C": 134, "exposure minutes": 2, "drying minutes": 5}, ["to fix"]),
        ("CDC 2008", {"temperature C": 121, "exposure minutes": 15, "drying minutes": 20}, ["notice"]),
    ],
)
def test_that_what_one_table_allows_is_a_notice_by_another(
    tmp_path: Path, table: str, changes: dict[str, object], found: list[str]
) -> None:
    # 134 °C for 3 minutes with pre-vacuum: below CDC 2008, Table 7 (4 at 132 °C), and as EN 285 has it
    def change(rows: Rows) -> None:
        rows["Routes"][1] |= {"cycle": "pre-vacuum"} | changes
        rows["Settings"].append({"setting": "cycle table", "value": table})

    site, _ = read_changed(tmp_path, change)
    assert site is not None
    told = [one for one in check_site(site, NOW) if one.kind == "below published minimum"]
    assert [one.severity.value for one in told] == found
    assert all(("CDC 2008, Table 7" if table == "CDC 2008" else table) in one.message for one in told)


def test_that_minutes_from_memory_are_said_to_be(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        rows["Routes"][1] |= {"cycle": "pre-vacuum", "temperature C": 135, "exposure minutes": 3, "drying minutes": 10}
        rows["Settings"].append({"setting": "cycle table", "value": "ST79"})

    site, _ = read_changed(tmp_path, change)
    assert site is not None
    [one] = [one for one in check_site(site, NOW) if one.kind == "below published minimum"]
    assert "from memory" in one.message


def test_that_dynamic_air_removal_has_no_cycle_at_121() -> None:
    # CDC guideline 2008, Table 7: not applicable
    assert least_for("pre-vacuum", 121) is None


@pytest.mark.parametrize(
    ("changes", "column"),
    [
        ({"cycle": "pre-vacuum", "exposure minutes": 4, "drying minutes": 20}, ""),
        ({"cycle": "pre-vacuum", "exposure minutes": 3, "drying minutes": 20}, "exposure minutes"),
        ({"cycle": "pre-vacuum", "exposure minutes": 4, "drying minutes": 19}, "drying minutes"),
        ({"cycle": "gravity", "exposure minutes": 14, "drying minutes": 15}, "exposure minutes"),
        ({"cycle": "gravity", "temperature C": 121, "exposure minutes": 29}, "exposure minutes"),
        ({"cycle": "gravity", "temperature C": 121, "exposure minutes": 30, "drying minutes": 15}, ""),
        ({"cycle": "pre-vacuum", "temperature C": 121, "exposure minutes": 30}, "temperature C"),
        ({"cycle": "pre-vacuum", "temperature C": 13.2}, "temperature C"),
        ({"cycle": "hydrogen peroxide", "temperature C": 50, "exposure minutes": 1, "drying minutes": 0}, ""),
    ],
)
def test_a_sterilizer_step_against_the_table(tmp_path: Path, changes: dict[str, object], column: str) -> None:
    def change(rows: Rows) -> None:
        rows["Routes"][1] |= changes

    site, _ = read_changed(tmp_path, change)
    assert site is not None
    found = [one for one in check_site(site, NOW) if one.kind in ("below published minimum", "too cold")]
    assert [(one.where.row, one.where.column) for one in found] == ([(STEAM_ROW, column)] if column else [])


def test_that_a_step_is_not_shorter_than_its_own_cycle(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        rows["Routes"][1] |= {"exposure minutes": 40, "drying minutes": 25}  # 65, and the least minutes are 60

    site, _ = read_changed(tmp_path, change)
    assert site is not None
    found = [one for one in check_site(site, NOW) if one.kind == "step shorter than its cycle"]
    assert [(one.where.row, one.where.column) for one in found] == [(STEAM_ROW, "least minutes")]


def test_that_a_route_of_91_minutes_is_noticed_and_one_of_92_is_not(tmp_path: Path) -> None:
    # 37:50 washer (J Foot Ankle Res 2011 4:2, Table 2) + 4 exposure + 20 drying (CDC 2008, Table 7)
    # + 30 cooling (ANSI/AAMI ST79, quoted second hand) = 91:50
    def change(wash: int) -> list[str]:
        def shorten(rows: Rows) -> None:
            rows["Routes"][0]["least minutes"] = wash
            rows["Routes"][1] |= {"least minutes": 24, "exposure minutes": 4, "drying minutes": 20}

        site, _ = read_changed(tmp_path, shorten)
        assert site is not None
        return [one.kind for one in check_site(site, NOW)]

    assert change(37) == ["route is hasty"]
    assert change(38) == []


@pytest.mark.parametrize(("body", "digit"), [("629104150021", "3"), ("890400021003", "7"), ("730001100001", "7")])
def test_published_check_digits(body: str, digit: str) -> None:
    # GS1, published examples of the check digit calculation
    assert str(check_digit(body)) == digit


@pytest.mark.parametrize(
    ("gtin", "kinds"),
    [
        # GS1 syntax dictionary vectors (16 digits are no GTIN: the check digit is the same algorithm)
        ("02345673", []),
        ("1234567890128", []),
        ("12345678901231", []),
        ("12345673", ["wrong check digit"]),
        ("1234567890129", ["wrong check digit"]),
        ("416000336108", []),
        ("416000336109", ["wrong check digit"]),
        # ours
        ("2345673", ["not a GTIN"]),
        ("ABC", ["not a GTIN"]),
    ],
)
def test_gtins_of_items(tmp_path: Path, gtin: str, kinds: list[str]) -> None:
    def change(rows: Rows) -> None:
        rows["Items"][0]["GTIN"] = gtin

    site, _ = read_changed(tmp_path, change)
    assert site is not None
    found = list(check_site(site, NOW))
    assert [one.kind for one in found] == kinds
    assert all(f"'{gtin}'" not in one.sentence_on_screen() for one in found), "it could be a patient's number"
    if gtin == "2345673":
        assert found[0].guessed
        assert found[0].nearest == ("02345673",)


@pytest.mark.parametrize(
    ("hibc", "kinds"),
    [
        # ANSI/HIBC 2.6, B.2 and figure C5
        ("+A123BJC5D6E71G", []),
        ("A123BJC5D6E71", []),
        ("+H123ABC01234567890D", []),
        # the same with another check character; a second label, which names no item
        ("+A123BJC5D6E71H", ["not a HIBC code"]),
        ("+$$52001510X3GD", ["not a HIBC code"]),
    ],
)
def test_hibc_codes_of_items(tmp_path: Path, hibc: str, kinds: list[str]) -> None:
    def change(rows: Rows) -> None:
        rows["Items"][0]["HIBC"] = hibc

    site, _ = read_changed(tmp_path, change)
    assert site is not None
    found = check_site(site, NOW)
    assert [one.kind for one in found] == kinds
    assert all(hibc not in one.sentence_on_screen() for one in found)


@pytest.mark.parametrize(
    ("written", "taken", "kinds"),
    [
        # GS1 General Specifications: a company prefix has 4 to 12 digits
        ("9506000", "9506000", []),
        ("0614141", "0614141", []),
        ("none", "", []),
        ("123", "", ["not a company prefix"]),
        ("9506000C", "", ["not a company prefix"]),
        ("9506000123456", "", ["not a company prefix"]),
    ],
)
def test_the_company_prefix_of_a_site(tmp_path: Path, written: str, taken: str, kinds: list[str]) -> None:
    def change(rows: Rows) -> None:
        rows["Settings"].append({"setting": "GS1 company prefix", "value": written})

    site, problems = read_changed(tmp_path, change)
    assert site is not None
    assert site.settings.gs1_company_prefix == taken
    assert [one.kind for one in besides_left_out(problems)] == kinds
