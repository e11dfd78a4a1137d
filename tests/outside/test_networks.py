"""Routes walked forwards and backwards against published networks of activities, in minutes for their units.

A route is a network: its steps are activities, and the latest starts are what a tray's list calls its deadlines.
"""

from __future__ import annotations

import re
from datetime import timedelta

from picklist.model.routes import Step
from picklist.model.site import Site
from picklist.model.uses import Pace, StepTime
from picklist.sets.calendar import make_calendar
from picklist.sets.timed_route import TimedRoute
from tests.builders import at, utc_settings
from tests.outside.local_files import local

OPEN = make_calendar(Site(settings=utc_settings()))
START = at("00:00")


def step(name: str, minutes: int, after: tuple[str, ...]) -> Step:
    return Step(name=name, after=after, usual_minutes=minutes, least_minutes=minutes)


def network(text: str) -> tuple[Step, ...]:
    """``"A:2 B:4(A)"``: activity A takes 2, B takes 4 and waits for A."""
    steps = []
    for word in text.split():
        found = re.fullmatch(r"(\w+):(\d+)(?:\(([\w,]+)\))?", word)
        assert found is not None, word
        name, length, after = found.groups()
        steps.append(step(name, int(length), tuple(after.split(",")) if after else ()))
    return in_order(steps)


def in_order(steps: list[Step]) -> tuple[Step, ...]:
    """Every activity behind those that it waits for."""
    done: dict[str, Step] = {}
    while len(done) < len(steps):
        done |= {one.name: one for one in steps if one.name not in done and all(name in done for name in one.after)}
    return tuple(done.values())


def minutes(times: tuple[StepTime, ...]) -> dict[str, tuple[int, int]]:
    """Begin and end of each activity, in minutes from the start."""
    spans = ((one.step, one.begins - START, one.ends - START) for one in times)
    return {name: (int(a / timedelta(minutes=1)), int(b / timedelta(minutes=1))) for name, a, b in spans}


def earliest(steps: tuple[Step, ...]) -> tuple[int, dict[str, tuple[int, int]]]:
    walk = TimedRoute(steps, OPEN, Pace.USUAL).walk_after(START)
    assert walk is not None
    return int((walk.ready - START) / timedelta(minutes=1)), minutes(walk.steps)


def latest(steps: tuple[Step, ...], length: int) -> dict[str, tuple[int, int]]:
    walk = TimedRoute(steps, OPEN, Pace.USUAL).walk_before(START + timedelta(minutes=length))
    assert walk is not None
    return minutes(walk.steps)


def floats(steps: tuple[Step, ...], length: int) -> list[int]:
    """How long each activity can wait, in the order of the steps' names."""
    forwards, backwards = earliest(steps)[1], latest(steps, length)
    return [backwards[one][0] - forwards[one][0] for one in sorted(forwards, key=lambda name: (len(name), name))]


CONSTRUCTION = "A:2 B:4(A) C:10(B) D:6(C) E:4(C) F:5(E) G:7(D) H:9(E,G) I:7(C) J:8(F,I) K:4(J) L:5(J) M:2(H) N:6(K,L)"


def test_the_whole_table_of_a_construction_project_of_44() -> None:
    """A lecture's table, read in a student's report (PERT_Project, table 6.2); that the example is Hillier and
    Lieberman's, *Introduction to Operations Research*, is from memory.
    """
    steps = network(CONSTRUCTION)
    length, forwards = earliest(steps)
    backwards = latest(steps, 44)
    names = "ABCDEFGHIJKLMN"
    assert length == 44
    assert [forwards[one][0] for one in names] == [0, 2, 6, 16, 16, 20, 22, 29, 16, 25, 33, 33, 38, 38]
    assert [forwards[one][1] for one in names] == [2, 6, 16, 22, 20, 25, 29, 38, 23, 33, 37, 38, 40, 44]
    assert [backwards[one][0] for one in names] == [0, 2, 6, 20, 16, 20, 26, 33, 18, 25, 34, 33, 42, 38]
    assert [backwards[one][1] for one in names] == [2, 6, 16, 26, 20, 25, 33, 42, 25, 33, 38, 38, 44, 44]
    assert [one for one in names if forwards[one] == backwards[one]] == list("ABCEFJLN")


TWELVE = "1:0 2:4(1) 3:9(1) 4:1(1) 5:4(2) 6:5(4) 7:1(6) 8:7(7) 9:8(5) 10:3(3) 11:3(7) 12:0(8,9,10,11)"


def test_the_latest_starts_ends_and_floats_of_a_project_of_16() -> None:
    """Vanhoucke, *Measuring Time* (Springer 2009), p. 18, read in the tests of the R package criticalpath (MIT)."""
    steps = network(TWELVE)
    backwards = latest(steps, 16)
    assert earliest(steps)[0] == 16
    assert [backwards[str(n)][0] for n in range(1, 13)] == [0, 0, 4, 2, 4, 3, 8, 9, 8, 13, 13, 16]
    assert [backwards[str(n)][1] for n in range(1, 13)] == [0, 4, 13, 3, 8, 8, 9, 16, 16, 16, 16, 16]
    assert floats(steps, 16) == [0, 0, 4, 2, 0, 2, 2, 2, 0, 4, 6, 0]


STADIUM = (
    "1:2 2:16(1) 3:9(2) 4:8(2) 5:10(3) 6:6(4,5) 7:2(4) 8:2(6) 9:9(4,6) 10:5(4) 11:3(6) 12:2(9) 13:1(7) 14:7(2) "
    "15:4(4,14) 16:3(8,11,14) 17:9(12) 18:1(17)"
)


def test_the_length_of_a_stadium_of_64_weeks() -> None:
    """Guéret, Prins and Sevaux, *Applications of Optimization with Xpress-MP* (2002), ch. 7: the network was read in
    a toolbox's example, the length of 64 is from memory; the latest starts were computed over all paths.
    """
    steps = network(STADIUM)
    backwards = latest(steps, 64)
    starts = [backwards[str(n)][0] for n in range(1, 19)]
    assert earliest(steps)[0] == 64
    assert starts == [0, 2, 18, 29, 27, 37, 61, 59, 43, 59, 58, 52, 63, 53, 60, 61, 54, 63]


def psplib(text: str) -> tuple[tuple[Step, ...], int]:
    """The steps of a network of PSPLIB and the length that its file prints (``MPM-Time``)."""
    lines = text.splitlines()
    printed = lines[next(n for n, line in enumerate(lines) if "MPM-Time" in line) + 1].split()[-1]
    first = next(n for n, line in enumerate(lines) if line.startswith("jobnr.    #modes")) + 1
    follows = [line.split() for line in lines[first : first + 32]]
    first = next(n for n, line in enumerate(lines) if line.startswith("------")) + 1
    durations = {row[0]: int(row[2]) for row in (line.split() for line in lines[first : first + 32])}
    after = {row[0]: tuple(other[0] for other in follows if row[0] in other[3:]) for row in follows}
    return in_order([step(name, durations[name], after[name]) for name in durations]), int(printed)


def check_printed_length(steps: tuple[Step, ...], printed: int) -> None:
    length, forwards = earliest(steps)
    backwards = latest(steps, printed)
    assert length == printed
    assert backwards["1"] == (0, 0)  # begun at the latest, it begins when it can at the earliest
    assert all(backwards[name][0] >= forwards[name][0] for name in forwards)


THIRTY_TWO = (
    "1:0 2:8(1) 3:4(1) 4:6(1) 5:3(4) 6:8(2) 7:5(3) 8:9(3) 9:2(4) 10:7(4) 11:9(2) 12:2(8) 13:6(3) 14:3(9,12) "
    "15:9(2) 16:10(10) 17:6(13,14) 18:5(13) 19:3(8) 20:7(5,11,18) 21:2(16) 22:7(16,17,18) 23:2(20,22) "
    "24:3(19,23) 25:3(10,15,20) 26:7(11) 27:8(7,8) 28:3(21,27) 29:7(19) 30:2(6,24,25) 31:2(26,28) "
    "32:0(29,30,31)"
)


def test_a_project_of_32_activities_whose_file_prints_its_length() -> None:
    """PSPLIB j301_1 (Kolisch and Sprecher, *EJOR* 96 (1996) 205-216), MPM-Time 38."""
    check_printed_length(network(THIRTY_TWO), 38)


def test_all_480_projects_of_the_same_kind() -> None:
    """PSPLIB j30. The files have no licence to be kept here; README.md says where to have them."""
    files = sorted(local("j30.sm").glob("*.sm"))
    assert len(files) == 480
    for file in files:
        check_printed_length(*psplib(file.read_text(encoding="utf-8")))
