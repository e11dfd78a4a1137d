"""Remedies of many small days against changes applied and judged by other means. Days of our own."""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import timedelta
from functools import cache
from itertools import combinations

import pytest

from picklist.model.conflicts import Edit, RemedyKind
from picklist.sets.allocation.solve import solve
from picklist.sets.find_conflicts import FoundConflict
from picklist.sets.plan_sets import make_planned_day
from picklist.sets.remedies.search import ROOMS_PER_CASE, Search
from picklist.sets.remedies.trial import TrialResult, Trials
from tests.builders import at
from tests.patience import THOROUGH, tries
from tests.sets.days import random_day
from tests.sets.random_sites import Evening, random_evening
from tests.sets.remedies_apart import (
    Trouble,
    forbidden,
    live,
    moves_of,
    removes,
    troubles,
    with_moves,
)

DAYS = [f"plain {n}" for n in range(tries(80, 18))] + [f"mixed {n}" for n in range(tries(8, 3))]
WHOLE = ["plain 10", "plain 14", "plain 1", "plain 18", "plain 8"][: tries(5, 1)]
GROUPS = tries(6, 1)
GRID = 5 if THOROUGH else 15  # minutes
MOVED = (RemedyKind.SHIFT, RemedyKind.ROOM, RemedyKind.SWAP)
Found = list[tuple[FoundConflict, list[TrialResult]]]


@cache
def day(word: str) -> Evening:
    kind, number = word.split()
    if kind == "mixed":
        return random_evening(f"remedies {number}", cases=4, trays=2, several=False)
    draw = random.Random(word)
    site, uses = random_day(int(number), cases=draw.randrange(3, 6), rooms=2, trays=2, spare=0.8)
    trays = {name: replace(tray, keep_ready=draw.choice([0, 0, 1])) for name, tray in site.trays.items()}
    return Evening(site=replace(site, trays=trays), uses=uses, now=at("05:00"))


@cache
def searched(word: str) -> Found:
    """One conflict of a day with all single changes that were found."""
    one = day(word)
    trials = Trials(make_planned_day(one.site, one.uses, one.now))
    targets = [found for group in trials.before.values() for found in group.values()]
    chosen = random.Random(word).sample(targets, min(1, len(targets)))
    found = [(target, Search(trials, target).singles()) for target in chosen]
    assert not trials.cut_short
    return found


@pytest.mark.parametrize("group", range(GROUPS))
def test_what_is_shown_helps_and_nothing_that_helps_is_missed(group: int) -> None:
    shown, helped = 0, 0
    for word in DAYS[group::GROUPS]:
        for target, verdicts in searched(word):
            before = troubles(day(word))
            shown += all_help(word, before, target, verdicts)
            helped += none_missed(word, before, target, verdicts)
    assert shown > 5
    assert helped


def all_help(word: str, before: Mapping[str, Trouble], target: FoundConflict, verdicts: list[TrialResult]) -> int:
    """Some of the moves and exchanges found, each on a plan made from nothing."""
    moving = [verdict for verdict in verdicts if verdict.edits[0].kind in MOVED]
    chosen = random.Random(word).sample(moving, min(2, len(moving)))
    for verdict in chosen:
        moves = moves_of(day(word), verdict.edits[0])
        assert not forbidden(day(word), moves), (word, verdict.edits)
        after = troubles(with_moves(day(word), moves))
        assert removes(before, after, target.id, set(moves)), (word, target.id, verdict.edits)
        assert set(verdict.removes) >= before.keys() - after.keys(), (word, verdict.edits)
    return len(chosen)


def none_missed(word: str, before: Mapping[str, Trouble], target: FoundConflict, verdicts: list[TrialResult]) -> int:
    """Moves and exchanges drawn at random: how many of them help, all found."""
    helped = 0
    for edit in some_edits(word, target):
        moves = moves_of(day(word), edit)
        if moves and not forbidden(day(word), moves):
            after = troubles(with_moves(day(word), moves))
            if removes(before, after, target.id, set(moves)):
                helped += 1
                assert is_covered(day(word), verdicts, edit, target.id in after), (word, target.id, edit)
    return helped


def some_edits(word: str, target: FoundConflict) -> Iterator[Edit]:
    """Exchanges, and moves to any of the day's starts and rooms; half of them of the case that waits."""
    one, draw = day(word), random.Random(f"edits of {word}")
    cases = live(one.site)
    for _ in range(3):
        case = draw.choice([draw.choice(cases), next(c for c in cases if c.number == target.use.case)])
        room = draw.choice([case.room, *sorted(one.site.rooms)])
        start = at("07:00") + timedelta(minutes=draw.randrange(0, 600, 5), days=(case.day - at("07:00").date()).days)
        away = room != case.room
        kind = RemedyKind.ROOM if away else RemedyKind.SHIFT
        if away or start != case.start:
            yield Edit(kind=kind, case=case.number, room=room if away else "", start=start)
    pairs = [(a, b) for a in cases for b in cases if a.number < b.number and (a.room, a.day) == (b.room, b.day)]
    for a, b in draw.sample(pairs, min(1, len(pairs))):
        yield Edit(kind=RemedyKind.SWAP, case=a.number, other_case=b.number)


def is_covered(one: Evening, verdicts: list[TrialResult], edit: Edit, only_eased: bool) -> bool:
    """Whether the edit was found, or one of its case that moves it less: the same way, or to a room as near."""
    mine = [verdict for verdict in verdicts if verdict.edits[0].kind is edit.kind]
    if edit.kind is RemedyKind.SWAP:
        return any(verdict.edits[0] == edit for verdict in mine)
    was = next(case.start for case in one.site.cases if case.number == edit.case)
    assert edit.start is not None
    asked = edit.start - was
    near: list[Edit] = []
    for verdict in mine:
        (found, *_) = verdict.edits
        assert found.start is not None
        moved = found.start - was
        if found.case == edit.case and abs(moved) <= abs(asked):
            fits = edit.kind is RemedyKind.ROOM or ((moved > timedelta()) == (asked > timedelta()))
            good = edit.kind is RemedyKind.ROOM or only_eased or verdict.tight is None
            near += [found] if fits and good else []
    if edit.kind is RemedyKind.ROOM:
        return any(found.room == edit.room for found in near) or len(near) >= ROOMS_PER_CASE
    return bool(near)


@pytest.mark.parametrize("word", WHOLE)
def test_every_single_change_to_a_small_day_is_weighed(word: str) -> None:
    """All starts on the grid in all rooms, all exchanges: whatever helps was found."""
    before, helped = troubles(day(word)), 0
    for target, verdicts in searched(word):
        for edit in every_edit(word):
            moves = moves_of(day(word), edit)
            if moves and not forbidden(day(word), moves):
                after = troubles(with_moves(day(word), moves))
                if removes(before, after, target.id, set(moves)):
                    helped += 1
                    assert is_covered(day(word), verdicts, edit, target.id in after), (target.id, edit)
    assert helped


def every_edit(word: str) -> Iterator[Edit]:
    """Every exchange in a room, and every start of the day on a grid of minutes, in every room."""
    one = day(word)
    cases = live(one.site)
    for a, b in combinations(sorted(cases, key=lambda case: case.number), 2):
        if (a.room, a.day) == (b.room, b.day):
            yield Edit(kind=RemedyKind.SWAP, case=a.number, other_case=b.number)
    for case in cases:
        midnight = case.start.replace(hour=0, minute=0)
        for minutes in range(0, 24 * 60, GRID):
            start = midnight + timedelta(minutes=minutes)
            for room in sorted(one.site.rooms):
                away = room != case.room
                if away or start != case.start:
                    kind = RemedyKind.ROOM if away else RemedyKind.SHIFT
                    yield Edit(kind=kind, case=case.number, room=room if away else "", start=start)


@pytest.mark.parametrize("word", ["mixed 4", "plain 0", "plain 10", "mixed 6"][: tries(4, 1)])
def test_the_bound_sets_aside_nothing_that_helps(word: str, monkeypatch: pytest.MonkeyPatch) -> None:
    quick = searched(word)
    set_nothing_aside(monkeypatch)
    searched.cache_clear()
    slow = searched(word)
    searched.cache_clear()
    assert [[verdict.edits for verdict in found] for _, found in slow] == [
        [v.edits for v in found] for _, found in quick
    ]
    assert any(found for _, found in quick)


def set_nothing_aside(monkeypatch: pytest.MonkeyPatch) -> None:
    """Plan every change in full and to its end, whatever a bound says of it."""
    monkeypatch.setattr("picklist.sets.remedies.trial.solve", lambda question, _: solve(question))
    monkeypatch.setattr("picklist.sets.remedies.quick_check.QuickCheck.allows", lambda *_: True)
    for name in ("BestServed.all_break", "BestServed.rule_out"):
        monkeypatch.setattr(f"picklist.sets.remedies.trial.{name}", lambda *_: False)
    for name in ("MOST_WORK", "LEAST_WORK"):
        monkeypatch.setattr(f"picklist.sets.remedies.trial.{name}", 10**9)


def shifts_found(trials: Trials) -> dict[str, list[tuple[Edit, ...]]]:
    """For each conflict of a day the moves in a room that remove it."""
    targets = [found for group in trials.before.values() for found in group.values()]
    searches = {target.id: Search(trials, target) for target in targets}
    return {
        name: [verdict.edits for case in one.planned.cases.values() for verdict in one.shifts(case)]
        for name, one in searches.items()
    }


@pytest.mark.parametrize("word", [f"plain {number}" for number in range(101, 101 + tries(20, 1))])
def test_what_is_ruled_out_for_one_conflict_is_no_help_to_another(word: str, monkeypatch: pytest.MonkeyPatch) -> None:
    one = day(word)
    quick = shifts_found(Trials(make_planned_day(one.site, one.uses, one.now)))
    set_nothing_aside(monkeypatch)
    assert shifts_found(Trials(make_planned_day(one.site, one.uses, one.now))) == quick
    assert len(quick) > 1
