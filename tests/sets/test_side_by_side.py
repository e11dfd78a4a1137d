"""Remedies sought in processes of their own: the same as those that one alone finds, whatever becomes of a process."""

from __future__ import annotations

import pickle
import sys
from collections import Counter, defaultdict
from collections.abc import Iterator
from functools import cache

import pytest

from picklist.model.conflicts import Conflict, conflicts_in
from picklist.own_process import EndedError
from picklist.sets.plan_sets import add_remedies, compose, make_planned_day
from picklist.sets.remedies import side_by_side
from picklist.sets.remedies.planned_day import PlannedDay
from picklist.sets.remedies.side_by_side import Sought, _Answers, _Seeker, _Shared, all_with_remedies
from tests.builders import at
from tests.sets.days import random_day


@cache
def day() -> tuple[PlannedDay, list[Sought]]:
    """Conflicts about four trays that do not stand in for each other."""
    site, uses = random_day(17, cases=7, rooms=3, trays=4, spare=0.7)
    planned = make_planned_day(site, uses, at("05:00"))
    known = {one.id: one for plan in planned.plans.values() for one in plan.conflicts_found}
    wanted = [Sought(one, known[one.id]) for one in conflicts_in(compose(planned).clusters)]
    assert len({planned.context.group_of[one.found.use.tray] for one in wanted}) > 2
    return planned, wanted


@cache
def sought_alone() -> dict[str, Conflict]:
    planned, wanted = day()
    found = {one.id: one for one in all_with_remedies(planned, None, wanted, workers=1)}
    assert any(one.remedies for one in found.values())
    return found


@pytest.fixture
def started(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[_Seeker]]:
    """The processes that were started; even the least work is given to some here. All have ended afterwards."""
    some: list[_Seeker] = []
    start = _Seeker.__init__

    def noted(one: _Seeker, shared: bytes) -> None:
        start(one, shared)
        some.append(one)

    monkeypatch.setattr(side_by_side, "WORTH_STARTING", 0)
    monkeypatch.setattr(_Seeker, "__init__", noted)
    yield some
    assert all(one.process.poll() is not None for one in some)


def test_that_processes_find_what_one_alone_finds_though_one_of_them_was_killed(
    started: list[_Seeker], monkeypatch: pytest.MonkeyPatch
) -> None:
    planned, wanted = day()
    ask = _Seeker.ask

    def killed(one: _Seeker, message: bytes) -> bytes:
        if one is started[1]:
            one.process.kill()
        return ask(one, message)

    monkeypatch.setattr(_Seeker, "ask", killed)
    said: list[str] = []
    found = all_with_remedies(planned, None, wanted, lambda: said.append("one more"), workers=2)
    assert {one.id: one for one in found} == sought_alone()
    assert len(started) == 2
    assert len(said) == len(wanted)


def test_that_a_process_answers_as_one_alone_would() -> None:
    planned, wanted = day()
    answers, found = _Answers(), {}
    assert answers.answer(pickle.dumps(_Shared(planned, None)))
    for group in _Shared(planned, None).groups(wanted):
        for number, one in enumerate(group.sought):
            found[one.conflict.id] = pickle.loads(answers.answer(pickle.dumps((number == 0, one))))
    assert found == sought_alone()


def test_that_a_stop_by_hand_ends_the_processes(started: list[_Seeker], monkeypatch: pytest.MonkeyPatch) -> None:
    planned, wanted = day()
    monkeypatch.setattr(_Seeker, "ask", lambda *_: pickle.dumps(wanted[0].conflict))

    def stop() -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        all_with_remedies(planned, None, wanted, stop, workers=2)
    assert started


def test_that_all_is_sought_here_where_no_process_can_be_started_or_all_have_ended(
    started: list[_Seeker], monkeypatch: pytest.MonkeyPatch
) -> None:
    answers: defaultdict[_Seeker, _Answers] = defaultdict(_Answers)
    asked: Counter[_Seeker] = Counter()

    def ended(one: _Seeker, message: bytes) -> bytes:
        asked[one] += 1
        if asked[one] > 2:  # what all is searched on, and one conflict
            raise EndedError
        return answers[one].answer(message)

    planned, _ = day()
    clusters = compose(planned).clusters
    monkeypatch.setattr(_Seeker, "ask", ended)
    monkeypatch.setattr("os.cpu_count", lambda: 2)
    assert {one.id: one for one in conflicts_in(add_remedies(planned, clusters))} == sought_alone()
    assert started
    monkeypatch.setattr(sys, "executable", None)
    assert {one.id: one for one in conflicts_in(add_remedies(planned, clusters))} == sought_alone()
