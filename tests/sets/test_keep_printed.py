"""Printed sets stay with their lists where the allocation is none the worse for it."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from picklist.sets.allocation.score import score
from picklist.sets.allocation.solve import solve, split
from picklist.sets.allocation.terms import AllocationAnswer, AllocationQuestion, Copy, Ready
from picklist.sets.keep_printed_sets import AMPLE, keep_printed
from tests.patience import tries
from tests.sets.allocation_words import job, question, shelf
from tests.sets.test_allocate import random_question, value


def sets_of(answer: AllocationAnswer) -> dict[str, str]:
    return {one.job: one.copy for one in answer.given}


def without(asked: AllocationQuestion, *keys: str) -> AllocationQuestion:
    return replace(asked, jobs=tuple(one for one in asked.jobs if one.key not in keys))


MORNING = [
    job(420, 800, key="C1"),
    job(450, 830, key="C2"),
    job(480, 860, key="C3"),
    job(900, 1300, key="C4"),
    job(930, 1330, key="C5"),
    job(960, 1360, key="C6"),
]


def test_that_one_cancelled_case_moves_no_other_case_to_another_set() -> None:
    asked = question(MORNING, shelf("A", 3))
    printed = sets_of(solve(asked))
    later = without(asked, "C2")
    assert sum(printed[key] != copy for key, copy in sets_of(solve(later)).items()) == 4
    assert sets_of(keep_printed(later, solve(later), printed)).items() <= printed.items()


def test_that_an_add_on_takes_what_is_left_and_the_printed_sets_stay() -> None:
    asked = question(MORNING, shelf("A", 4))
    printed = sets_of(solve(asked))
    more = replace(asked, jobs=(job(400, 780, key="C0"), *asked.jobs))
    assert sum(printed.get(key) != copy for key, copy in sets_of(solve(more)).items()) == 7
    kept = sets_of(keep_printed(more, solve(more), printed))
    assert kept == printed | {"C0": "A-04"}  # which no list wants before C0 gives it back


def coming(name: str, ready: int) -> Copy:
    return Copy(id=name, kind="A", first={"": Ready(usual=ready, least=ready)})


@pytest.mark.parametrize(
    ("spare", "margin", "stays"), [(60, 30, True), (59, 30, False), (40, 20, True), (40, 30, False)]
)
def test_that_a_printed_set_on_its_way_stays_if_it_has_twice_the_margin_to_spare(
    spare: int, margin: int, stays: bool
) -> None:
    # C1 might have a set that is there already; C9 has only just the margin, so that nothing else tells.
    jobs = [job(700 + spare, 2000, key="C1"), job(3000, 4000, key="C2"), job(650 + margin, 4000, "B", key="C9")]
    copies = (*shelf("A", 1), coming("A-02", 700), Copy(id="B-01", kind="B", first={"": Ready(usual=650, least=650)}))
    asked = question(jobs, copies, margin=margin, pools={"A": "A", "B": "A"})
    answer = solve(asked)
    assert sets_of(answer)["C1"] == "A-01"
    assert (sets_of(keep_printed(asked, answer, {"C1": "A-02"}))["C1"] == "A-02") is stays


@pytest.mark.parametrize(("spare", "stays"), [(AMPLE, True), (AMPLE - 1, False)])
def test_that_a_printed_set_stays_where_all_have_hours_to_spare(spare: int, stays: bool) -> None:
    # Without the list C2 would wait for A-02 and have two hours more than C1 has with it.
    jobs = [job(700 + spare, 2000, key="C1"), job(820 + spare, 2000, key="C2")]
    asked = question(jobs, (*shelf("A", 1), coming("A-02", 700)), margin=30)
    assert sets_of(solve(asked)) == {"C1": "A-01", "C2": "A-02"}
    kept = sets_of(keep_printed(asked, solve(asked), {"C1": "A-02", "C2": "A-01"}))
    assert (kept == {"C1": "A-02", "C2": "A-01"}) is stays


def test_that_a_set_of_another_kind_or_none_that_exists_is_not_kept() -> None:
    asked = question([job(420, 800, "A", "B", key="C1")], (*shelf("A", 1), *shelf("B", 1)))
    answer = solve(asked)
    assert keep_printed(asked, answer, {"C1": "B-01"}) == answer
    assert keep_printed(asked, answer, {"C1": "gone"}) == answer


@pytest.mark.parametrize("variety", ["plain", "buildings", "floors"])
@pytest.mark.parametrize("seed", range(tries(120)))
def test_that_no_objective_changes_and_no_use_is_served_less_well(variety: str, seed: int) -> None:
    draw = random.Random(f"keep {variety}{seed}")
    asked = random_question(draw, places=variety == "buildings", floors=variety == "floors")
    copies = [*asked.copies, *(replace(one, id=f"{one.id}x") for one in asked.copies if draw.random() < 0.7)]
    asked = replace(asked, copies=tuple(copies))
    before = sets_of(solve(without(asked, draw.choice(asked.jobs).key)))
    names = [one.id for one in copies]
    printed = before | {key: draw.choice(names) for key in before if draw.random() < 0.2}

    answer = solve(asked)
    kept = keep_printed(asked, answer, printed)

    def stay(one: AllocationAnswer) -> int:
        return sum(printed.get(key) == copy for key, copy in sets_of(one).items())

    assert stay(kept) >= stay(answer)
    assert kept.unserved == answer.unserved
    assert [replace(o, copy="", after="", slack=None) for o in kept.given] == [
        replace(o, copy="", after="", slack=None) for o in answer.given
    ]
    for part in split(asked):
        mine = {one.key for one in part.jobs}
        old, new = (
            AllocationAnswer(given=tuple(o for o in a.given if o.job in mine), waits={}) for a in (answer, kept)
        )
        assert score(part, new.given) == score(part, old.given)
        assert value(part, new) == value(part, old)
    tight = [
        (o.job, o.slack) for a in (kept, answer) for o in a.given if o.slack is not None and o.slack < asked.margin
    ]
    assert len(set(tight)) * 2 == len(tight)


def test_that_the_random_questions_do_exchange_sets() -> None:
    exchanged = 0
    for seed in range(60):
        draw = random.Random(f"exchange{seed}")
        asked = random_question(draw, places=False, floors=False)
        asked = replace(asked, copies=(*asked.copies, *(replace(one, id=f"{one.id}x") for one in asked.copies)))
        answer = solve(asked)
        printed = {
            one.job: one.copy.removesuffix("x") + ("" if one.copy.endswith("x") else "x") for one in answer.given
        }
        exchanged += keep_printed(asked, answer, printed) != answer
    assert exchanged > 30
