"""What a build says at its end."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from picklist.cli.summary import build_lines
from picklist.documents.write_plan import PrintResult
from picklist.tasks.build import Built
from tests.builders import at, case
from tests.plan.nights import hospital, planned, shelf


def test_conflicts_of_other_days_get_a_line_of_their_own() -> None:
    """Built at noon for the 26th: the day itself is fine, the day after two cases want one set."""
    after = [
        replace(case(f"F{n}", "08:00", 60, f"OR {n}"), day=at("08:00", 1).date(), start=at("08:00", 1)) for n in (1, 2)
    ]
    plan = planned(hospital((case("C1", "08:00", 60), *after), (shelf("wrist-01"),)), at("18:00", -1))
    written = PrintResult(folder=Path("out"), files=(), drawn=(), kept=(), notices=())
    lines = build_lines(Built(problems=(), plan=plan, written=written))
    assert [line for line in lines if "other days" in line] == [
        "on other days: 1 (case F2), first decision by Fri 27 Nov 07:30"
    ]
    assert not [line for line in lines if line.startswith("short")]
