"""Which of two conflicts is the worse one, as whoever weighs a change must say. Our own examples."""

from __future__ import annotations

from picklist.model.conflicts import ConflictKind
from picklist.sets.find_conflicts import FoundConflict, is_gone, none_worse
from tests.builders import case
from tests.department.ward import use, ward

WEAKEST_FIRST = (
    ConflictKind.TIGHT,
    ConflictKind.RESERVE,
    ConflictKind.CONDITIONAL,
    ConflictKind.RUSH,
    ConflictKind.SHORT,
)
WRIST = use(ward({"WRIST": 1}), case("1", "07:30", 60), "WRIST")


def found(kind: ConflictKind, minutes: int, *, never: bool = False) -> FoundConflict:
    return FoundConflict(kind=kind, use=WRIST, minutes=minutes, never=never)


def test_a_weaker_kind_is_milder_whatever_the_minutes() -> None:
    for place, kind in enumerate(WEAKEST_FIRST):
        for other in WEAKEST_FIRST[place + 1 :]:
            assert found(kind, 500).is_no_worse_than(found(other, 1))
            assert not found(other, 1).is_no_worse_than(found(kind, 500))


def test_of_one_kind_more_minutes_are_worse_but_of_time_to_spare_fewer() -> None:
    for kind, milder, worse in ((ConflictKind.SHORT, 20, 21), (ConflictKind.RUSH, 5, 6), (ConflictKind.TIGHT, 11, 10)):
        assert found(kind, milder).is_no_worse_than(found(kind, worse))
        assert found(kind, milder).is_no_worse_than(found(kind, milder))
        assert not found(kind, worse).is_no_worse_than(found(kind, milder))


def test_a_set_that_never_comes_is_worse_than_one_that_comes_late() -> None:
    never, late = found(ConflictKind.SHORT, 0, never=True), found(ConflictKind.SHORT, 600)
    assert late.is_no_worse_than(never)
    assert never.is_no_worse_than(never)
    assert not never.is_no_worse_than(late)


def test_a_conflict_is_gone_too_when_only_little_time_to_spare_is_left_of_it() -> None:
    short, tight = found(ConflictKind.SHORT, 20), found(ConflictKind.TIGHT, 5)
    assert is_gone(short, None)
    assert is_gone(short, tight)
    assert not is_gone(short, found(ConflictKind.RUSH, 1))
    assert not is_gone(tight, tight)


def test_no_conflict_is_worse_when_each_was_there_and_is_no_worse() -> None:
    short, rush = found(ConflictKind.SHORT, 20), found(ConflictKind.RUSH, 20)
    assert none_worse({short.id: short}, [rush])
    assert none_worse({short.id: short}, [])
    assert not none_worse({rush.id: rush}, [short])
    assert not none_worse({}, [rush])
