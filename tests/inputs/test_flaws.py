"""One flaw at a time: told once, at its place, stopping no more than it must."""

from __future__ import annotations

from pathlib import Path

import pytest

from picklist.checks import check_site
from picklist.inputs import read_site
from picklist.model.site import Site
from picklist.problems import Problem, Severity
from tests.inputs.flaws import FLAWS, Flaw, add, put
from tests.inputs.folders import DAY, NOW, Rows, besides_left_out, read_changed
from tests.inputs.whole import gaps


def place(problem: Problem) -> tuple[str, str, int | None, str]:
    where = problem.where
    return (problem.kind, where.sheet or where.file, where.row, where.column)


def by_flaw(flaw: Flaw) -> str:
    return flaw.name


def test_that_names_are_unique() -> None:
    assert len({flaw.name for flaw in FLAWS}) == len(FLAWS) > 80


@pytest.mark.parametrize("flaw", FLAWS, ids=by_flaw)
def test_flaw(tmp_path: Path, flaw: Flaw) -> None:
    site, problems = read_site(flaw.write(tmp_path), now=NOW)
    grave = [one for one in problems if one.severity is not Severity.NOTICE]
    assert [place(one) for one in grave] == list(flaw.expected)
    notices = (one.kind for one in besides_left_out(problems) if one.severity is Severity.NOTICE)
    assert tuple(notices) == flaw.notices
    assert sorted({case for one in grave for case in one.cases}) == sorted(flaw.stops)
    assert any(one.severity is Severity.STOPS_ALL for one in grave) is flaw.stops_all
    assert (site is None) is flaw.stops_all
    if flaw.nearest:
        assert flaw.nearest == grave[0].nearest
    for table, one in flaw.lost:
        assert site is not None
        held = getattr(site, table)
        ids = held if isinstance(held, dict) else {getattr(x, "number", None) or getattr(x, "lot", None) for x in held}
        assert one not in ids
    assert_no_patient(site, problems)
    if site is not None:
        assert list(gaps(site, problems)) == [], "the site that is left must be whole"
        check_site(site, NOW)


def test_that_a_setting_spelled_in_two_ways_is_doubled_and_the_first_counts(tmp_path: Path) -> None:
    def change(rows: Rows) -> None:
        rows["Settings"] += [{"setting": "turnover", "value": "20"}, {"setting": "Turn-over", "value": "45"}]

    site, problems = read_changed(tmp_path, change)
    assert site is not None
    assert site.settings.turnover == 20
    assert [(one.kind, one.where.row, [where.row for where in one.related]) for one in problems] == [
        ("doubled key", 5, [4])
    ]


@pytest.mark.parametrize(("written", "closed"), [("washer", ["washers"]), ("n/a", [""])])
def test_that_a_holiday_of_an_unknown_station_closes_what_it_may_mean(
    tmp_path: Path, written: str, closed: list[str]
) -> None:
    """Taken for a working day, it would promise sets that nobody washes; a row that is like no station closes all."""
    site, problems = read_changed(tmp_path, add("Holidays", day=DAY, station=written))
    assert site is not None
    assert [(one.day, one.station) for one in site.holidays] == [(DAY, station) for station in closed]
    (told,) = problems
    assert "closed that day: " + (closed[0] or "all stations and runs") in told.message


def test_that_the_unit_of_a_lot_is_not_said(tmp_path: Path) -> None:
    _, problems = read_changed(tmp_path, put("Lots", 2, unit="Oda Wrenfield"))
    (told,) = (one.sentence_on_screen() for one in problems if one.kind == "unit mismatch")
    assert "Wrenfield" not in told
    assert "each" in told


def assert_no_patient(site: Site | None, problems: tuple[Problem, ...]) -> None:
    """Nothing of a patient that stood in the sheets is held or told."""
    told = " ".join(f"{one.sentence()} {one.value}" for one in problems) + repr(site)
    for secret in ("Jane", "Doe", "Smith", "1234567", "1957"):
        assert secret not in told
