"""Evenings and days at random, judged by books of where everything is; a few in every run, any number by hand."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace

import pytest

from picklist.evening.changes import PlanChange
from picklist.model.plan import Plan
from tests.hard.books import Books, CrewsWord, Piece
from tests.hard.nights import fewest, go, quickly, steps_of
from tests.hard.shifts import ACTS
from tests.patience import tries

FIRST_SEED = 7000
LONG = 25  # acts


@pytest.fixture(scope="module", autouse=True)
def _quickly() -> Iterator[None]:
    with quickly():
        yield


@pytest.mark.parametrize("seed", range(FIRST_SEED, FIRST_SEED + tries(100, 3)))
def test_that_a_night_at_random_leaves_nothing_on_two_carts_and_nothing_lost(seed: int) -> None:
    fault, course = go(steps_of(seed, LONG))
    assert not fault, "\n".join(course)


def test_that_a_night_has_of_everything() -> None:
    """Builds, reports with exceptions, put-backs, settling: each act does something in one night or another."""
    assert {name for seed in range(50) for name, *_ in steps_of(seed, LONG)} == set(ACTS)


def test_that_a_fault_would_be_seen_and_shortened(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever reads the changes overlooks the cancelled carts."""
    take = Books.take

    def forgetful(self: Books, plan: Plan, change: PlanChange) -> None:
        take(self, plan, replace(change, carts=tuple(one for one in change.carts if one.is_live)))

    monkeypatch.setattr(Books, "take", forgetful)
    steps = [("build", 0, 0, 0), ("stock", 0, 1, 1), ("cancel", 0, 0, 0), ("later", 0, 0, 0), ("build", 0, 0, 0)]
    fault, _ = go(steps)
    assert fault == "changes: nothing is said of ['M1']"
    assert [name for name, *_ in fewest(steps, fault)] == ["build", "cancel", "build"]


def test_what_the_books_make_of_a_cart_built_with_exceptions() -> None:
    """Three drapes of L1, one of them on hold; one is missing, one of the others is of L2, and a towel stands in."""
    listed = {Piece("drape", "drape", "L1"): 2, Piece("drape", "drape", "L1", hold=True): 1, Piece("knee#1", "K-1"): 1}
    said = CrewsWord(rev=1, done=True, sets={"knee#1": "K-2"}, lots={"drape": Counter({"L2": 1, "L1": 1})})
    said.missing["drape"] = 1
    assert said.on_cart(Counter(listed), Counter()) == {
        Piece("drape", "drape", "L1"): 1,
        Piece("drape", "drape", "L2"): 1,
        Piece("knee#1", "K-2"): 1,
    }
    said.lots, said.stood["drape"] = {}, ("towel", 1)
    assert said.on_cart(Counter(listed), Counter()) == {
        Piece("drape", "drape", "L1"): 2,
        Piece("drape", "towel", hold=True): 1,
        Piece("knee#1", "K-2"): 1,
    }
