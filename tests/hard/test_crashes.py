"""A write that fails at one of its points loses nothing, and the next run is right; a few points in every run."""

from __future__ import annotations

import os
from pathlib import Path
from random import Random

import pytest

from tests.hard.acts import ACTS, Act
from tests.hard.crash import Failure
from tests.hard.crashes import Course, course_of, fail_at
from tests.hard.evening import Evening
from tests.patience import THOROUGH

SEED = 17
USUAL = ("carts", "cards approve")
POINTS = 2  # of each in a usual run

pytestmark = pytest.mark.skipif(os.name != "posix", reason="a process forks")


def chosen(course: Course) -> list[int]:
    every = range(1, len(course.points) + 1)
    return list(every) if THOROUGH else sorted(Random(f"{SEED}").sample(every, POINTS))


@pytest.mark.parametrize("name", ACTS if THOROUGH else USUAL)
def test_a_failed_write_loses_nothing_and_the_next_run_is_right(name: str, evening: Evening) -> None:
    with course_of(ACTS[name], evening) as course:
        ways = (
            list(Failure) if THOROUGH else [Random(f"{SEED} {name}").choice([Failure.FULL, Failure.IO]), Failure.KILL]
        )
        assert list(fail_at(course, chosen(course), ways)) == []


def test_a_writer_that_loses_the_former_file_would_be_seen(evening: Evening) -> None:
    """It empties the file and then writes it anew: a failure between the two leaves neither."""

    def write(own: Evening) -> None:
        path = own.site / "note.txt"
        text = path.read_text() if path.exists() else "nothing"
        path.write_text(text.replace("1", "2"))

    def prepare(own: Evening) -> None:
        Path(own.site / "note.txt").write_text("revision 1\n" * 9)

    with course_of(Act(before=prepare, do=write), evening) as course:
        found = list(fail_at(course, range(1, len(course.points) + 1), Failure))
    assert [one for one in found if one.startswith("KILL")]
    assert "site/note.txt" in found[-1]


@pytest.mark.parametrize(
    ("name", "point", "how"),
    [
        ("listen", "fsync /site", Failure.KILL),
        ("settle", "write /site.picklist.kept/", Failure.KILL),
        ("cards undo", "chmod /site/", Failure.IO),
        ("fix", "COMMIT", Failure.FULL),
        *([("build", "rename /.out.new", Failure.KILL)] if THOROUGH else ()),
    ],
)
def test_a_failure_where_it_was_wrong_once(name: str, point: str, how: Failure, evening: Evening) -> None:
    """The schedule of messages was taken for one changed by hand; half a former file was kept as if it were whole;
    what had been laid ready was left behind; a cell was fixed and could not be undone; lists in hand were drawn anew,
    and not as they were printed, as the former papers were not yet back in place.
    """
    with course_of(ACTS[name], evening) as course:
        numbers = [number for number, what in enumerate(course.points, start=1) if what.startswith(point)]
        assert list(fail_at(course, numbers[-1:], [how])) == []
