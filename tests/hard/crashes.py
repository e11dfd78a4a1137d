"""Acts that fail at each of their points, one after the other: what is wrong afterwards."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass

from picklist.tasks.errors import WrongUse
from tests.hard.acts import Act, Standing, look, run_act, standing
from tests.hard.crash import KILLED, Failure, Points, failing, in_a_child
from tests.hard.evening import Evening


@dataclass(frozen=True, slots=True)
class Course:
    """An act, the evening before it, its points, and what stands before and after it (once, and done twice)."""

    act: Act
    evening: Evening
    points: tuple[str, ...]
    before: Standing
    after: tuple[Standing, ...]


@contextmanager
def course_of(act: Act, evening: Evening) -> Iterator[Course]:
    """Do it soundly once in a copy, counting the points, and once more."""
    with evening.copy(papers=True) as ready:
        act.before(ready)
        with ready.copy(papers=True) as own:
            before = standing(own)
            points = Points(own.place)
            with failing(points):
                refused = run_act(act, own)
            if refused or not points.count:
                raise AssertionError(f"the sound run was refused: {refused or 'it writes nothing'}")
            once = standing(own)
            run_act(act, own)
            yield Course(act, ready, tuple(points.seen), before, (once, standing(own)))


def fail_once(course: Course, number: int, how: Failure) -> list[str]:
    """Let one point fail, look, and run again: what is not as after a sound run."""
    with course.evening.copy(papers=True) as own:
        points = Points(own.place, number, how)
        refused = ""
        if how is Failure.KILL:
            code = in_a_child(lambda: run_act(course.act, own), points)
            if code not in (0, KILLED):
                return ["the process ended in a fault"]
        else:
            with failing(points):
                refused = run_act(course.act, own)
            wrong = _after_refusal(course, own, refused)
            if wrong:
                return wrong
        with suppress(WrongUse):
            look(own)
        run_act(course.act, own)
        now = standing(own)
        if now in course.after:
            return []
        return min((now.differs_from(one) for one in course.after), key=len)


def _after_refusal(course: Course, own: Evening, refused: str) -> list[str]:
    """A refusal is a sentence; a run that was not refused has done all."""
    now = standing(own)
    left = [f"left lying: {name}" for name, _ in now.files if name.endswith(".part")]
    if refused:
        return left if len(refused) > 10 and "Errno" not in refused else [f"it says: {refused}"]
    wrong = min((now.differs_from(one) for one in course.after), key=len)
    return [f"not refused, and not done: {one}" for one in wrong]


def fail_at(course: Course, numbers: Iterable[int], ways: Iterable[Failure]) -> Iterator[str]:
    """Each fault of failures at these points (from 1), in each of the ways."""
    for number in numbers:
        for how in ways:
            try:
                wrong = fail_once(course, number, how)
            except Exception as error:
                wrong = [f"{type(error).__name__}: {error}"]
            if wrong:
                yield f"{how.name} at {number}, {course.points[number - 1]}: {'; '.join(wrong[:6])}"
