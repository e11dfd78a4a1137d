"""What a build says at its end."""

from __future__ import annotations

import sys
from dataclasses import replace
from datetime import timedelta
from io import StringIO
from pathlib import Path

import pytest
import typer

from picklist.cli.summary import build_facts, build_lines
from picklist.cli.terminal_lines import OVER, progress_line, wrong_use_ends
from picklist.documents.write_plan import PrintResult
from picklist.problems import Where, to_fix
from picklist.tasks.build import Built
from picklist.tasks.errors import WrongUse
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
        "conflicts on other days: 1 (case F2), first decision by Fri 27 Nov 07:30"
    ]
    assert not [line for line in lines if line.startswith("short")]
    late = [replace(one, decide_by=plan.now - timedelta(minutes=1)) for one in plan.clusters[0].conflicts]
    over = replace(plan, clusters=(replace(plan.clusters[0], conflicts=tuple(late)),))
    lines = build_lines(Built(problems=(), plan=over, written=written))
    assert "conflicts on other days: 1 (case F2)" in lines, "a moment that is over is no moment to decide by"


def test_that_a_cart_on_hold_is_counted_neither_in_words_nor_for_scripts() -> None:
    plan = planned(hospital((case("C1", "08:00", 60), case("C2", "10:00", 60)), (shelf("wrist-01"),)), at("18:00", -1))
    held = replace(plan.carts[1], stopped=(to_fix("latex", Where(file="Items"), "not stated", expected="yes or no"),))
    written = PrintResult(folder=Path("out"), files=(), drawn=(), kept=(), notices=())
    built = Built(problems=(), plan=replace(plan, carts=(plan.carts[0], held)), written=written)
    facts = build_facts(built)
    assert (facts["carts"], facts["stopped"]) == (1, ["C2"])
    assert "1 cart, revision" in build_lines(built)[0]


class Terminal(StringIO):
    """Standard error that somebody watches."""

    def isatty(self) -> bool:
        return True


def test_that_what_refuses_a_build_stands_on_a_line_of_its_own(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)

    def print_there() -> None:
        with wrong_use_ends(), progress_line(quiet=False) as progress:
            progress("Printing")
            raise WrongUse("the folder of the papers cannot be written")

    with pytest.raises(typer.Exit):
        print_there()
    assert terminal.getvalue() == f"{OVER}Printing ...{OVER}picklist: the folder of the papers cannot be written\n"
