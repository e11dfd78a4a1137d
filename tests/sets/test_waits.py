"""How long a case without a set waits for one, and what an allocation is worth, in plain minutes. Our own examples."""

from __future__ import annotations

from dataclasses import replace

from picklist.sets.allocation.score import score
from picklist.sets.allocation.terms import AllocationQuestion, Copy, GivenSet, Grade, Level, NextFreeSet, Option, Ready
from picklist.sets.allocation.waits import least_late, soonest_sets
from tests.sets.allocation_words import job, question


def dirty(name: str, ready: int, kind: str = "A") -> Copy:
    return Copy(id=name, kind=kind, first={"": Ready(usual=ready, least=ready)})


def given(key: str, copy: str, kind: str = "A") -> GivenSet:
    return GivenSet(job=key, copy=copy, kind=kind, after="", grade=Grade.CLEAN, slack=0)


def wait(asked: AllocationQuestion, *served: GivenSet) -> dict[str, tuple[int, str, str] | None]:
    found = soonest_sets(asked, served)
    return {key: (one.minutes, one.copy, one.after) if one else None for key, one in found.items()}


def test_a_set_that_is_still_dirty_is_waited_for_from_the_need_on() -> None:
    asked = question([job(50, 90, key="late")], (dirty("A-1", 100), dirty("A-2", 80)))
    assert soonest_sets(asked, ()) == {"late": NextFreeSet(minutes=30, kind="A", copy="A-2", after="")}


def test_a_set_that_a_case_has_is_waited_for_until_it_comes_back_from_there() -> None:
    asked = question([job(0, 80, key="first"), job(50, 150, key="late")], (dirty("A-1", 0),))
    assert wait(asked, given("first", "A-1")) == {"late": (30, "A-1", "first")}


def test_a_set_that_stands_ready_but_is_kept_for_a_later_case_comes_after_that() -> None:
    asked = question([job(50, 150, key="late"), job(100, 220, key="kept for")], (dirty("A-1", 0),))
    assert wait(asked, given("kept for", "A-1")) == {"late": (170, "A-1", "kept for")}


def test_what_a_case_has_itself_never_comes_free_for_it() -> None:
    """A case wants two sets of one tray and has the first; only the other one, dirty until 120, comes for it."""
    jobs = [job(50, 150, key="one", case="C"), job(50, 150, key="two", case="C")]
    asked = question(jobs, (dirty("A-1", 0), dirty("A-2", 120)))
    assert wait(asked, given("one", "A-1")) == {"two": (70, "A-2", "")}


def test_the_sets_that_a_case_lacks_are_as_many_different_ones() -> None:
    jobs = [job(50, 150, key="one", case="C"), job(50, 150, key="two", case="C")]
    assert wait(question(jobs, (dirty("A-1", 60), dirty("A-2", 90)))) == {
        "one": (10, "A-1", ""),
        "two": (40, "A-2", ""),
    }
    assert wait(question(jobs, (dirty("A-1", 60),))) == {"one": (10, "A-1", ""), "two": None}


def test_a_set_that_must_go_back_before_is_of_no_use_however_soon_it_comes() -> None:
    """The set on loan would be 10 minutes late, and may be 9; a stand-in comes after 60."""
    options = (Option(kind="A", most_late=9), Option(kind="B", preference=1))
    asked = question([job(50, 150, "A", "B", key="late", options=options)], (dirty("A-1", 60), dirty("B-1", 110, "B")))
    assert wait(asked) == {"late": (60, "B-1", "")}


def test_where_no_set_comes_the_case_counts_as_later_than_any_that_might() -> None:
    """Of two sets one comes 10 late; for the other want none is left, which counts as one more than the last: 11."""
    jobs = [job(50, 150, key="one", case="C"), job(50, 150, key="two", case="C")]
    assert least_late(question(jobs, (dirty("A-1", 60),)), ()) == 10 + 11
    assert least_late(question(jobs, (dirty("A-1", 60), dirty("A-2", 90))), ()) == 10 + 40


def test_the_first_level_that_differs_decides_between_two_allocations() -> None:
    """Two cases open a tray and one has it on hold; any of the sets, and a stand-in, may serve any of them."""
    both = (Option(kind="A"), Option(kind="B", preference=1))
    jobs = [
        job(0, 400, "A", "B", key="opened", options=both),
        job(10, 400, "A", "B", key="weighty", options=both, weight=3),
        job(20, 400, "A", "B", key="held", options=both, on_hold=True),
    ]
    asked = question(jobs, (dirty("A-1", 0), dirty("A-2", 0), dirty("B-1", 0, "B")))
    opened, weighty, held = given("opened", "A-1"), given("weighty", "A-2"), given("held", "B-1", "B")
    stands_in = replace(held, preference=1)
    rushed = replace(stands_in, grade=Grade.RUSH, slack=-5)
    all_served = score(asked, (opened, weighty, stands_in))
    assert all_served.decides_against(score(asked, (opened, weighty))) is Level.HELD
    assert all_served.decides_against(score(asked, (opened, stands_in))) is Level.OPEN
    assert score(asked, (weighty,)).decides_against(score(asked, (opened,))) is Level.OPEN
    assert score(asked, (weighty,)).levels[Level.OPEN] < score(asked, (opened,)).levels[Level.OPEN]
    assert all_served.decides_against(score(asked, (opened, weighty, rushed))) is Level.CERTAIN
    built = replace(asked, jobs=(*jobs[:2], replace(jobs[2], cart="B-1")))
    off_cart = (given("held", "A-1"), weighty, replace(given("opened", "B-1", "B"), preference=1))
    assert score(built, (opened, weighty, stands_in)).decides_against(score(built, off_cart)) is Level.BUILT
    assert all_served.decides_against(score(asked, (opened, weighty, held))) is Level.EXACT
    assert all_served.decides_against(all_served) is None
