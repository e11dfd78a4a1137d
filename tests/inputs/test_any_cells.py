"""Any cells at all: the reader answers, keeps its promise, and names a place for everything."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from picklist.checks import check_site
from picklist.inputs import read_site
from picklist.problems import Severity
from picklist.problems_report import write_report
from picklist.tables.schema import BY_NAME, TABLES
from tests.inputs.folders import NOW, Rows, sound_rows, write_site
from tests.inputs.whole import gaps
from tests.patience import tries

LIKELY = [
    "",
    "every",
    "S01",
    "s02",
    "KNEE",
    "HERNIA; KNEE",
    "T-KNEE",
    "T-BASIC",
    "100001",
    "PK-1",
    "STEAM",
    "steam",
    "wash",
    "start",
    "washers",
    "0",
    "-1",
    "2",
    "25:30",
    "07:30",
    "2026-11-26",
    "26/11/2026",
    "11/26/2026",
    "2026-11-25 16:30",
    "2027-03-14 02:30",
    "yes",
    "no",
    "at step",
    "in use",
    "C-1",
    "left",
    "none",
    "tray",
    "item",
    "replace",
    "remove",
    "Mon-Fri",
    "alert latex",
    "=1+1",
    '"',
    "America/Chicago",
    "Mars/Olympus",
]
TEXTS = st.one_of(st.text(max_size=12), st.sampled_from(LIKELY))
PLACES = [(table, column.name) for table in TABLES if table.name in sound_rows() for column in table.columns]


@st.composite
def spoiled(draw: st.DrawFn) -> Rows:
    """The sound site with a few cells overwritten and a few rows doubled or lost."""
    rows = sound_rows()
    for _ in range(draw(st.integers(1, 6))):
        table, column = draw(st.sampled_from(PLACES))
        row: dict[str, Any] = draw(st.sampled_from(rows[table.name]))
        row[column] = draw(TEXTS)
    names: list[str] = draw(st.lists(st.sampled_from(sorted(rows)), max_size=2))
    for name in names:
        twice = draw(st.booleans())
        if rows[name] and twice:
            rows[name].append(dict(rows[name][0]))
        elif rows[name]:
            rows[name].pop()
    return rows


def write(folder: Path, rows: Rows) -> None:
    def take(sound: Rows) -> None:
        sound.clear()
        sound.update(rows)

    write_site(folder, take, as_csv=frozenset(BY_NAME))


@settings(max_examples=tries(60), suppress_health_check=[HealthCheck.too_slow])
@given(rows=spoiled())
def test_that_any_cells_are_read_or_reported(rows: Rows) -> None:
    with TemporaryDirectory() as folder:
        write(Path(folder), rows)
        site, problems = read_site(Path(folder), now=NOW)
    assert (site is None) is any(one.severity is Severity.STOPS_ALL for one in problems)
    assert all(one.where.file or one.kind == "missing table" for one in problems)
    assert all(one.cases or one.where.column == "case" for one in problems if one.severity is Severity.STOPS_CASE)
    if site is not None:
        assert list(gaps(site, problems)) == []
        told = check_site(site, NOW)
        assert write_report(problems + told)


def test_that_a_gap_would_be_seen(tmp_path: Path) -> None:
    site, problems = read_site(write_site(tmp_path), now=NOW)
    assert site is not None
    assert list(gaps(site, problems)) == []
    holed: Any = replace(site, trays={}, staff={})
    assert len(list(gaps(holed, problems))) >= 4
