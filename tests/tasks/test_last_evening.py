"""Whoever tries one change after the other on the page does so on an evening that is planned once."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from picklist.plan import PlanRequest, make_plan
from picklist.store.state import open_state, state_path
from picklist.tasks import try_out
from picklist.tasks.read_folder import load_site
from picklist.tasks.try_out import LATELY, LastEvening, plan_ahead, try_on_plan, try_words
from tests.tasks.small_folder import write_folder

NOW = datetime(2026, 11, 25, 18, 0, tzinfo=UTC)
CASES = [f"C-{n},2026-11-26,OR {n},0{6 + n}:30,60,S{n},P1,none," for n in (1, 2, 3)]
MOVE = ["move C-3 to 15:00"]


@pytest.fixture
def planned(monkeypatch: pytest.MonkeyPatch) -> list[datetime]:
    """The moments at which an evening was planned."""
    moments: list[datetime] = []
    usual = try_out.plan_evening

    def watched(*of: object) -> object:
        moments.append(of[2])  # type: ignore[arg-type]
        return usual(*of)  # type: ignore[arg-type]

    monkeypatch.setattr(try_out, "plan_evening", watched)
    monkeypatch.setattr(try_out, "LAST", LastEvening())
    return moments


def test_that_an_evening_is_planned_again_when_it_is_long_ago_or_anything_changed(
    tmp_path: Path, planned: list[datetime]
) -> None:
    folder = write_folder(tmp_path / "north", *CASES)
    loaded, site = load_site(folder, NOW)
    plan = make_plan(site, loaded.problems, PlanRequest(day=(NOW + timedelta(days=1)).date(), now=NOW))

    def tried(later: timedelta, of: list[str] = MOVE) -> list[str]:
        last, try_out.LAST = try_out.LAST, LastEvening()
        afresh = try_on_plan(folder, plan, of, NOW + later)
        planned.pop()
        try_out.LAST = last
        answer = try_on_plan(folder, plan, of, NOW + later)
        assert (answer[0].lines, answer[1]) == (afresh[0].lines, replace(afresh[1], now=answer[1].now))
        return list(answer[0].lines)

    assert any("C-3" in line for line in tried(timedelta(0)))
    tried(timedelta(minutes=1), ["cancel C-1"])
    tried(LATELY)
    assert planned == [NOW], "one change after the other"
    tried(LATELY + timedelta(seconds=1))
    assert len(planned) == 2, "it is long ago"
    with open_state(state_path(folder)):
        pass
    tried(LATELY + timedelta(seconds=2))
    assert len(planned) == 3, "somebody wrote to the state"
    write_folder(folder, *CASES, Sets="set,tray,side,state,in case,place\nWR-01,T-WR,,on shelf,,A-1-1\n")
    tried(LATELY + timedelta(seconds=3))
    assert len(planned) == 4, "a set is gone"
    plan = replace(plan, settings=replace(plan.settings, margin=plan.settings.margin + 5))
    tried(LATELY + timedelta(seconds=4))
    assert len(planned) == 5, "it was built with another margin"
    tried(LATELY)
    assert len(planned) == 6, "the clock was set back"


def test_that_an_evening_planned_ahead_is_the_one_on_which_a_change_is_tried(
    tmp_path: Path, planned: list[datetime]
) -> None:
    folder = write_folder(tmp_path / "north", *CASES)
    loaded, site = load_site(folder, NOW)
    plan = make_plan(site, loaded.problems, PlanRequest(day=(NOW + timedelta(days=1)).date(), now=NOW))
    with ThreadPoolExecutor(3) as several:
        done = [several.submit(plan_ahead, folder, plan, NOW) for _ in range(3)]
    assert [one.result() for one in done] == [None] * 3
    try_on_plan(folder, plan, MOVE, NOW + timedelta(minutes=1))
    assert planned == [NOW]


def test_that_words_are_tried_at_the_very_moment_that_is_asked_for(tmp_path: Path, planned: list[datetime]) -> None:
    folder = write_folder(tmp_path / "north", *CASES)
    for later in (timedelta(0), timedelta(0), timedelta(seconds=1)):
        try_words(folder, MOVE, NOW + later)
    assert planned == [NOW, NOW + timedelta(seconds=1)]
