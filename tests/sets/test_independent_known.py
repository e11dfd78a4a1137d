"""Known results on intervals, held on whole plans: each case is an interval, each set serves one at a time."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import timedelta
from itertools import combinations

import pytest

from picklist.model.routes import Route, Step
from picklist.model.schedule import Case
from picklist.model.site import Site
from picklist.sets.plan_sets import SetsPlan
from tests.builders import at, case, copies, tray, utc_settings
from tests.patience import tries
from tests.sets.test_conflicts import planned, wants

Spans = list[tuple[int, int]]

# Exercise of 12 intervals, CSU Stanislaus CS4440 (2020); touching intervals may share. Its answer: 6 rooms.
EXERCISE = [(13, 15), (17, 22), (12, 17), (9, 10), (12, 15), (9, 11), (11, 14), (10, 15), (16, 19), (12, 14)]
EXERCISE += [(18, 23), (8, 11)]


def day_of(spans: Spans, sets: int, turnaround: int = 0, step: int = 60) -> Site:
    """A case for each interval, in units of ``step`` minutes from midnight, without lead, haul or margin."""
    route = Route(id="R", steps=(Step(name="turn", usual_minutes=turnaround, least_minutes=turnaround),))
    return Site(
        settings=utc_settings(setup_lead=0, haul=0, room_release=0, margin=0),
        cases=tuple(interval(number, span, step) for number, span in enumerate(spans)),
        trays={"T": tray("T")},
        routes={"R": route},
        sets=copies("T", sets),
    )


def interval(number: int, span: tuple[int, int], step: int) -> Case:
    one = case(f"C{number:02d}", "00:00", (span[1] - span[0]) * step, f"OR {number}")
    return replace(one, start=at("00:00") + timedelta(minutes=span[0] * step))


def plan_of(site: Site) -> SetsPlan:
    return planned(site, *(wants(one.number, "T") for one in site.cases), now="00:00")


def served(spans: Spans, sets: int, turnaround: int = 0, step: int = 60) -> int:
    return sum(bool(one.set_id) for one in plan_of(day_of(spans, sets, turnaround, step)).assignments)


def depth(spans: Spans, gap: int = 0) -> int:
    """The most intervals, each longer by a gap, that run at one moment."""
    return max(sum(begins <= moment < ends + gap for begins, ends in spans) for moment, _ in spans)


@pytest.mark.parametrize(("sets", "most"), [(1, 3), (2, 6), (3, 9), (4, 10), (5, 11), (6, 12)])
def test_so_many_sets_serve_as_many_of_the_twelve_intervals_as_any_choice_of_them(sets: int, most: int) -> None:
    # An interval graph is perfect: so many sets serve a choice exactly when no more of it run at one moment.
    best = max(
        size for size in range(13) for some in combinations(EXERCISE, size) if not some or depth(list(some)) <= sets
    )
    assert best == most
    assert served(EXERCISE, sets) == most


@pytest.mark.parametrize(("hours", "least"), [(0, 6), (1, 6), (2, 7), (3, 8)])
def test_the_twelve_intervals_need_as_many_sets_as_overlap_with_their_turnaround(hours: int, least: int) -> None:
    # Kleinberg and Tardos, Algorithm Design, 4.1: the least number of rooms is the depth.
    assert depth(EXERCISE, hours) == least
    assert served(EXERCISE, least, 60 * hours) == 12
    short = plan_of(day_of(EXERCISE, least - 1, 60 * hours))
    assert [one.kind.value for one in short.conflicts].count("short") >= 1


def random_spans(draw: random.Random) -> Spans:
    begins = [draw.randrange(0, 150) for _ in range(draw.randrange(4, 18))]
    return [(one, one + draw.randrange(6, 50)) for one in begins]


@pytest.mark.parametrize("seed", range(tries(40)))
def test_the_least_number_of_sets_is_the_greatest_overlap(seed: int) -> None:
    draw = random.Random(f"overlap {seed}")
    spans, gap = random_spans(draw), draw.randrange(0, 12)
    least = depth(spans, gap)
    assert served(spans, least, gap * 5, step=5) == len(spans)
    assert served(spans, least - 1, gap * 5, step=5) < len(spans)


@pytest.mark.parametrize("seed", range(tries(40)))
def test_where_all_weigh_the_same_the_greedy_choice_serves_as_many(seed: int) -> None:
    draw = random.Random(f"greedy {seed}")
    spans, sets = random_spans(draw), draw.randrange(1, 5)
    assert served(spans, sets, step=5) == greedy(spans, sets)


def greedy(spans: Spans, sets: int) -> int:
    """Take the intervals as they begin; where more run than there are sets, give up the one that ends last.

    Carlisle and Lloyd, Discrete Applied Mathematics 59 (1995); Faigle and Nawijn, DAM 58 (1995); from memory.
    """
    kept: Spans = []
    for span in sorted(spans):
        kept.append(span)
        running = [one for one in kept if one[1] > span[0]]
        if len(running) > sets:
            kept.remove(max(running, key=lambda one: one[1]))
    return len(kept)
