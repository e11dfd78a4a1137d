"""A case that wants several sets of a tray: each that it lacks waits for another set. Our own days, not published."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from picklist.clock import SiteClock
from picklist.model.catalogue import StandIn
from picklist.model.conflicts import Conflict, ConflictKind
from picklist.model.sets import SetState
from picklist.sets.allocation.solve import solve, solve_part, split
from picklist.sets.allocation.terms import AllocationQuestion, Grade, Ready
from picklist.sets.plan_sets import SetsPlan
from picklist.wording.say_conflicts import bound_lines, proof_opening
from tests.builders import at, case, copies, says, tray
from tests.sets.allocation_words import job, question, shelf
from tests.sets.test_allocate import random_question
from tests.sets.test_conflicts import only, planned, wants, wrist_day


def short(plan: SetsPlan) -> dict[str, tuple[int, str]]:
    """Minutes and set by the use that goes without."""
    return {one.id: (one.minutes, one.set_id) for one in plan.conflicts if one.kind is ConflictKind.SHORT}


def told(plan: SetsPlan, conflict: str) -> Conflict:
    return next(one for one in plan.conflicts if one.id == conflict)


def test_a_case_is_not_told_to_wait_for_the_set_that_it_has_itself() -> None:
    site = wrist_day(cases=(case("1", "07:30", 120),), sets=copies("WRIST", 1))
    plan = planned(site, wants("1", "WRIST", 2), remedies=True)
    conflict = only(plan)
    assert short(plan) == {"1/WRIST/2": (0, "")}
    assert [(one.set_id, one.expected, one.late) for one in plan.assignments] == [("WRIST-01", None, 0), ("", None, 0)]
    assert "It wants 2 sets and gets WRIST-01. No further set of it can be used for this case" in says(conflict)
    assert conflict.knock_on == ()
    assert conflict.missing == "one more set of Wrist by 07:00"
    clock = SiteClock("UTC")
    assert " ".join((proof_opening(conflict, clock), *bound_lines(conflict, clock))) == (
        "At 07:00 Wrist is taken or wanted by 1 case: 1 (2 sets). Only 1 set fits this case. "
        "WRIST-01: goes to case 1 itself, which wants 2 sets at once."
    )


def test_nor_for_it_when_a_later_case_has_given_it_back() -> None:
    # Received 09:40, ready 12:50; case 2 has it from 13:30 to 15:00, and it is ready again at 18:20.
    site = wrist_day(cases=(case("1", "07:30", 120), case("2", "14:00", 60)), sets=copies("WRIST", 1))
    assert short(planned(site, wants("1", "WRIST", 2), wants("2", "WRIST"))) == {"1/WRIST/2": (0, "")}


def test_a_case_that_lacks_two_waits_for_the_first_and_the_second_set_to_come_free() -> None:
    # WRIST-01 is ready again at 12:50 from case 1, WRIST-02 at 13:35 from case 2; case 3 needs its sets at 10:45.
    cases = (
        case("1", "07:30", 120, "R3", priority=5),
        case("2", "08:00", 135, "R4", priority=5),
        case("3", "11:15", 120, "R3"),
    )
    plan = planned(wrist_day(cases=cases), wants("1", "WRIST"), wants("2", "WRIST"), wants("3", "WRIST", 3))
    assert short(plan) == {"3/WRIST": (125, "WRIST-01"), "3/WRIST/2": (170, "WRIST-02"), "3/WRIST/3": (0, "")}
    by_copy = {one.use.copy: (one.expected, one.late) for one in plan.assignments if one.use.case == "3"}
    assert by_copy == {1: (at("12:50"), 125), 2: (at("13:35"), 170), 3: (None, 0)}
    first, second, third = (says(told(plan, f"3/WRIST{copy}")) for copy in ("", "/2", "/3"))
    assert "It wants 3 sets and gets none. No set is ready by then. The soonest is WRIST-01, ready 12:50" in first
    assert (
        "No further set is ready by then. The soonest after WRIST-01 is WRIST-02, ready 13:35 at usual pace: 2 h 50 min"
        in second
    )
    assert "No further set of it can be used for this case" in third
    assert (
        "WRIST-02: with case 2 until 10:15, ready again 13:35 at usual pace; it goes to what else this case lacks"
        in third
    )


def test_a_set_that_is_still_dirty_comes_for_one_of_them_only() -> None:
    # 190 minutes from 05:00 make it ready at 08:10; the sets are needed at 07:00.
    dirty = {"WRIST-02": replace(copies("WRIST", 2)["WRIST-02"], state=SetState.DIRTY)}
    site = wrist_day(cases=(case("1", "07:30", 120),), sets={**copies("WRIST", 1), **dirty})
    plan = planned(site, wants("1", "WRIST", 3))
    assert short(plan) == {"1/WRIST/2": (70, "WRIST-02"), "1/WRIST/3": (0, "")}


def test_a_set_that_the_case_has_for_another_tray_does_not_come_for_it_either() -> None:
    trays = {"WRIST": tray("WRIST", stand_ins=(StandIn(tray="HAND", preference=1),)), "HAND": tray("HAND")}
    site = wrist_day(cases=(case("1", "07:30", 120),), trays=trays, sets=copies("HAND", 1))
    plan = planned(site, replace(wants("1", "WRIST"), needs=(*wants("1", "WRIST").needs, *wants("1", "HAND").needs)))
    (conflict,) = plan.conflicts
    assert (conflict.kind, conflict.minutes, conflict.set_id) == (ConflictKind.SHORT, 0, "")


def test_a_set_that_was_rushed_on_is_not_said_to_be_ready_while_it_is_in_use() -> None:
    # By usual minutes it would be back at 130, but it went on in a rush at 110 and is back from there at 300.
    back = {"A": {"": Ready(usual=130, least=100)}}
    jobs = [job(0, 0, key="a", back=back, weight=5), job(110, 300, key="b", weight=5), job(115, 400, key="c")]
    answer = solve(question(jobs, shelf("A", 1)))
    assert [one.grade for one in answer.given] == [Grade.CLEAN, Grade.RUSH]
    assert answer.unserved == {"c": 185}


def test_a_set_that_stands_there_but_is_kept_for_a_later_case_comes_free_after_it() -> None:
    jobs = [job(0, 100, key="first"), job(50, 150, key="later", weight=5)]
    wait = solve(question(jobs, shelf("A", 1))).waits["first"]
    assert wait is not None
    assert (wait.minutes, wait.copy, wait.after) == (150, "A-01", "later")


def test_which_case_goes_without_is_judged_by_the_set_that_it_really_waits_for() -> None:
    # The pair would wait for the other case's set for 190 minutes, the other case for the pair's for 150 only. Its
    # own set, back at 160, is none that the pair could wait for.
    pair = [job(10, 160, key=f"pair {n}", group="pair", case="pair") for n in (1, 2)]
    other = job(10, 200, key="a single one")
    assert solve(question([*pair, other], shelf("A", 2))).unserved == {"a single one": 150}


@pytest.mark.parametrize("seed", range(100))
def test_no_two_sets_lacked_by_a_case_are_promised_the_same_set(seed: int) -> None:
    draw = random.Random(f"promises{seed}")
    asked = random_question(draw, places=seed % 2 == 0, floors=False, several=True)
    for part in split(asked):
        check_promises(part)


def check_promises(asked: AllocationQuestion) -> None:
    """Each promise is a set that the case has not got, walked from the job that it names, which still had it."""
    answer = solve_part(asked)
    jobs = {one.key: one for one in asked.jobs}
    copies_of = {copy.id: copy for copy in asked.copies}
    promised: dict[str, list[str]] = {}
    for key, wait in answer.waits.items():
        mine = jobs[key]
        own = {one.copy for one in answer.given if jobs[one.job].party == mine.party}
        if wait is None:
            continue
        assert wait.copy not in own
        assert wait.kind in mine.kinds()
        ready = jobs[wait.after].back[wait.kind][mine.place] if wait.after else copies_of[wait.copy].ready_for(mine)
        assert ready is not None
        assert ready.usual - mine.need == wait.minutes > 0
        next_on_it = [one for one in answer.given if one.copy == wait.copy and one.after == wait.after]
        assert all(jobs[one.job].need > mine.need for one in next_on_it)
        promised.setdefault(mine.party, []).append(wait.copy)
    assert all(len(set(sets)) == len(sets) for sets in promised.values())
