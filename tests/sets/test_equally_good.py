"""Of equally good allocations one is taken, whichever the solver comes upon first."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from picklist.sets.allocation.exact import solve_exactly
from picklist.sets.allocation.program import Program
from picklist.sets.plan_sets import SetsPlan, plan_sets
from tests.builders import at
from tests.patience import tries
from tests.sets.days import random_day
from tests.sets.test_allocate import random_question, with_carts, with_records
from tests.sets.test_remedies_of_sample import sample

load = Program.load


def without_presolve(program: Program, *, values_alone: bool = False) -> Any:
    solver = load(program, values_alone=values_alone)
    solver.setOptionValue("presolve", "off")
    return solver


def with_another_seed(program: Program, *, values_alone: bool = False) -> Any:
    solver = load(program, values_alone=values_alone)
    solver.setOptionValue("random_seed", 5)
    return solver


def with_other_rows_first(program: Program, *, values_alone: bool = False) -> Any:
    if values_alone:  # its rows are changed by their numbers
        return load(program, values_alone=values_alone)
    return load(replace(program, rows=random.Random(3).sample(program.rows, len(program.rows))))


OTHERWISE = [without_presolve, with_another_seed, with_other_rows_first]


@contextmanager
def solving(way: Callable[..., Any]) -> Iterator[None]:
    """Every program is solved in another way."""
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(Program, "load", way)
        yield


@pytest.mark.parametrize("variety", ["plain", "buildings", "floors", "several", "records", "carts"])
@pytest.mark.parametrize("seed", range(tries(60, 12)))
def test_a_question_has_one_answer_however_it_is_put_and_solved(variety: str, seed: int) -> None:
    draw = random.Random(f"one answer {variety} {seed}")
    asked = random_question(
        draw, places=variety == "buildings", floors=variety == "floors", several=variety == "several"
    )
    asked = {"records": with_records, "carts": with_carts}.get(variety, lambda _, same: same)(draw, asked)
    answer = set(solve_exactly(asked))
    for way in OTHERWISE:
        with solving(way):
            assert set(solve_exactly(asked)) == answer
    jobs, copies = (tuple(draw.sample(some, len(some))) for some in (asked.jobs, asked.copies))
    assert set(solve_exactly(replace(asked, jobs=jobs, copies=copies))) == answer


def crowded(seed: int) -> SetsPlan:
    site, uses = random_day(seed, cases=20, rooms=5, trays=4, spare=0.8)
    return plan_sets(site, uses, at("18:00", -1))


@cache
def as_it_is(seed: int) -> SetsPlan:
    return crowded(seed)


@pytest.mark.parametrize("way", OTHERWISE)
@pytest.mark.parametrize("seed", range(tries(6, 1)))
def test_a_crowded_day_has_one_plan_with_the_same_conflicts_and_remedies(seed: int, way: Callable[..., Any]) -> None:
    assert as_it_is(seed).conflicts
    with solving(way):
        assert crowded(seed) == as_it_is(seed)


def test_the_sample_evening_has_one_plan() -> None:
    evening, plan = sample()
    with solving(without_presolve):
        assert plan_sets(evening.site, evening.uses, evening.now) == plan
