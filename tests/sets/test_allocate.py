"""Sets are given in the best possible way: known results, every small case, and independent solvers."""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import pairwise

import networkx as nx
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp

from picklist.sets.allocation.exact import solve_exactly
from picklist.sets.allocation.quick import serve_all
from picklist.sets.allocation.score import score
from picklist.sets.allocation.solve import cut, solve, solve_part, split
from picklist.sets.allocation.terms import AllocationAnswer, AllocationQuestion, Copy, Grade, Job, Level, Option, Ready
from tests.patience import tries
from tests.sets.allocation_words import job, question, shelf
from tests.sets.brute import LATE, best_value, value_of

# Exercise of 12 intervals, CSU Stanislaus CS4440 (2020); touching intervals may share.
EXERCISE = "13-15 17-22 12-17 9-10 12-15 9-11 11-14 10-15 16-19 12-14 18-23 8-11"


def exercise(gap: int = 0) -> list[Job]:
    pairs = [tuple(map(int, one.split("-"))) for one in EXERCISE.split()]
    return [job(begins, ends + gap) for begins, ends in pairs]


def depth(jobs: list[Job]) -> int:
    """Greatest number of jobs that overlap anywhere."""
    return max(sum(o.need <= j.need < o.back["A"][""].usual for o in jobs) for j in jobs)


@pytest.mark.parametrize(("sets", "served"), [(1, 3), (2, 6), (3, 9), (4, 10), (5, 11), (6, 12)])
def test_the_published_exercise_serves_as_many_as_so_many_sets_can(sets: int, served: int) -> None:
    # The counts are computed from the exercise's intervals by trying every choice.
    answer = solve(question(exercise(), shelf("A", sets)))
    assert len(answer.given) == served
    assert len(answer.unserved) == 12 - served


@pytest.mark.parametrize(("gap", "least"), [(0, 6), (1, 6), (2, 7), (3, 8)])
def test_the_least_number_of_sets_is_the_greatest_overlap(gap: int, least: int) -> None:
    # Kleinberg and Tardos, Algorithm Design, 4.1; the exercise states 6 for no gap.
    jobs = exercise(gap)
    assert depth(jobs) == least
    assert not solve(question(jobs, shelf("A", least))).unserved
    assert solve(question(jobs, shelf("A", least - 1))).unserved


def greedy_count(jobs: list[Job], sets: int) -> int:
    """Greatest number of intervals that k sets can serve: take each as it starts, drop the one that ends last.

    Carlisle and Lloyd, Discrete Applied Mathematics 59 (1995); Faigle and Nawijn, DAM 58 (1995); from memory.
    """
    running: list[int] = []
    done = 0
    for one in sorted(jobs, key=lambda each: each.need):
        done += sum(end <= one.need for end in running)
        running = [end for end in running if end > one.need] + [one.back["A"][""].usual]
        if len(running) > sets:
            running.remove(max(running))
    return done + len(running)


@pytest.mark.parametrize("seed", range(tries(40)))
def test_unweighted_service_agrees_with_the_greedy_for_k_colourable_intervals(seed: int) -> None:
    draw = random.Random(seed)
    begins = [draw.randrange(0, 600, 5) for _ in range(draw.randrange(3, 26))]
    jobs = [job(b, b + draw.randrange(60, 300, 5), key=f"{n}") for n, b in enumerate(begins)]
    sets = draw.randrange(1, 6)
    assert len(solve(question(jobs, shelf("A", sets))).given) == greedy_count(jobs, sets)


def random_question(draw: random.Random, *, places: bool, floors: bool, several: bool = False) -> AllocationQuestion:
    kinds = ["A", "B", "C"][: draw.randrange(1, 4)]
    buildings = ["", "east"] if places else [""]
    jobs = []
    for number in range(draw.randrange(2, 6)):
        need = draw.randrange(0, 40)
        wanted = draw.sample(kinds, draw.randrange(1, len(kinds) + 1))
        back = {}
        for kind in wanted:
            usual = need + draw.randrange(8, 30)
            least = usual - draw.randrange(0, 8)
            held = draw.random() < 0.25
            back[kind] = {
                place: Ready(usual=usual + 3 * i, least=least + 3 * i, unopened=need + 6 + 3 * i if held else None)
                for i, place in enumerate(buildings)
            }
        if draw.random() < 0.1:
            back[wanted[0]] = {}  # its route never ends
        options = tuple(Option(kind=kind, preference=i) for i, kind in enumerate(wanted))
        jobs.append(
            Job(
                key=f"J{number}",
                need=need,
                start=need + draw.randrange(0, 3),
                options=options,
                back=back,
                place=draw.choice(buildings),
                weight=draw.choice([1, 1, 1, 2, 5]),
                group=draw.choice(["", "", "", "pair"]),
                on_hold=draw.random() < 0.25,
            )
        )
    paired = [one for one in jobs if one.group]
    jobs = [replace(one, weight=paired[0].weight) if one.group else one for one in jobs]
    copies = []
    for number in range(draw.randrange(1, 4)):
        usual = draw.choice([-100, draw.randrange(0, 25)])
        first = {
            place: Ready(
                usual=usual + 2 * i,
                least=usual + 2 * i - draw.randrange(0, 5),
                waits=(usual > 0 and draw.random() < 0.8) or i > 0,
            )
            for i, place in enumerate(buildings)
        }
        odd: dict[str, Ready | None] = {}
        if not floors and draw.random() < 0.3:
            later = draw.choice([None, Ready(usual=usual + 15, least=usual + 12)])
            odd = {one.key: later for one in jobs if draw.random() < 0.5}
        copies.append(Copy(id=f"S{number}", kind=draw.choice(kinds), first=first, exceptions=odd))
    if several:
        jobs = with_more_for_a_case(draw, jobs)
        more = [one.key for one in jobs if one.case == jobs[0].case]  # of one start, so one record covers all or none
        copies = [
            replace(copy, exceptions={**copy.exceptions, **dict.fromkeys(more, copy.exceptions[jobs[0].key])})
            if jobs[0].key in copy.exceptions
            else copy
            for copy in copies
        ]
    return question(
        jobs,
        tuple(copies),
        margin=draw.choice([0, 6]),
        floors={kind: draw.randrange(0, 3) for kind in kinds} if floors else {},
        pools={kind: "A" if kind == "B" and draw.random() < 0.3 else kind for kind in kinds},
        earlier_keeps=draw.random() < 0.7,
    )


def lacking_two(draw: random.Random) -> AllocationQuestion:
    """A case wants two or three sets of a tray that others pass on among them, so that one set comes free twice."""
    jobs = []
    for number in range(draw.randrange(2, 5)):
        need = draw.randrange(0, 40)
        jobs.append(job(need, need + draw.randrange(5, 25), key=f"J{number}", weight=draw.choice([1, 3, 3])))
    need = draw.randrange(5, 25)
    count = draw.randrange(2, 4)
    jobs += [job(need, need + draw.randrange(10, 40), key=f"C{n}", case="C", group="C/A") for n in range(count)]
    usual = [draw.choice([-100, -100, draw.randrange(0, 60)]) for _ in range(draw.randrange(2, 4))]
    readies = [Ready(usual=one, least=one - draw.randrange(0, 4), waits=one > -100) for one in usual]
    copies = tuple(Copy(id=f"S{n}", kind="A", first={"": ready}) for n, ready in enumerate(readies))
    return question(jobs, copies, margin=draw.choice([0, 6]))


def with_more_for_a_case(draw: random.Random, jobs: list[Job]) -> list[Job]:
    """The first job's case wants one or two sets more, of the same kinds or of some of them; some soon go back."""
    lates = [draw.choice([None, None, draw.randrange(0, 30)]) for _ in jobs[0].options]
    options = tuple(replace(one, most_late=late) for one, late in zip(jobs[0].options, lates, strict=True))
    first = replace(jobs[0], case="C", group=draw.choice(["", "C/A"]), options=options)
    more = []
    for number in range(draw.randrange(1, 3)):
        options = first.options if draw.random() < 0.6 else first.options[-1:]
        back = {option.kind: first.back[option.kind] for option in options}
        more.append(replace(first, key=f"{first.key}+{number}", options=options, back=back))
    return [first, *more, *jobs[1:4]]


def with_records(draw: random.Random, asked: AllocationQuestion) -> AllocationQuestion:
    """Half of the sets of one tray have a record that ends; only a job that leaves it unopened does not renew it."""
    kind = min(copy.kind for copy in asked.copies)
    ends = draw.randrange(0, 45)
    jobs = []
    for one in asked.jobs:
        if kind not in one.back:
            jobs.append(one)
            continue
        held = draw.random() < 0.6
        back = {
            place: replace(ready, unopened=one.need + draw.randrange(3, 9) if held else None)
            for place, ready in one.back[kind].items()
        }
        old = {
            place: replace(ready, unopened_last=ends if held and one.need <= ends else None)
            for place, ready in back.items()
        }
        preference = next(option.preference for option in one.options if option.kind == kind)
        jobs.append(
            replace(
                one,
                back={**one.back, kind: back, "old": old},
                options=(*one.options, Option(kind="old", preference=preference)),
                renews=frozenset() if held and one.need <= ends else frozenset({"old"}),
            )
        )
    copies = [replace(copy, kind="old") if copy.kind == kind and draw.random() < 0.7 else copy for copy in asked.copies]
    pools = {**asked.pools, "old": asked.pools[kind]}
    return replace(asked, jobs=tuple(jobs), copies=tuple(copies), pools=pools, renewed={"old": kind})


def with_carts(draw: random.Random, asked: AllocationQuestion) -> AllocationQuestion:
    """Some sets stand on the built cart of a job; all jobs of their trays may still get them."""
    jobs = list(asked.jobs)
    for copy in asked.copies:
        holders = [n for n, one in enumerate(jobs) if copy.kind in one.kinds() and not one.cart]
        if holders and draw.random() > 0.3:
            holder = draw.choice(holders)
            jobs[holder] = replace(jobs[holder], cart=copy.id)
    return replace(asked, jobs=tuple(jobs))


def value(asked: AllocationQuestion, answer: AllocationAnswer) -> tuple[float, ...]:
    """The answer's value, walked again from which copy serves which job."""
    copies = {copy.id: copy for copy in asked.copies}
    jobs = {one.key: one for one in asked.jobs}
    last: dict[str, Job] = {}
    kinds: dict[str, str] = {}
    choice = {}
    for given in sorted(answer.given, key=lambda one: jobs[one.job].need):
        one, copy = jobs[given.job], copies[given.copy]
        before = last.get(copy.id)
        assert (before.key if before else "") == given.after
        kind = kinds.get(copy.id, copy.kind)
        ready = before.back[kind].get(one.place) if before else copy.ready_for(one)
        assert ready is not None
        assert ready.grade(one.need) == given.grade
        choice[one.key] = (copy, ready)
        last[copy.id] = one
        kinds[copy.id] = given.kind
    return value_of(asked, choice)


@pytest.mark.parametrize("variety", ["plain", "buildings", "floors", "several", "records", "carts"])
@pytest.mark.parametrize("seed", range(tries(150, 24)))
def test_every_objective_agrees_with_trying_every_choice(variety: str, seed: int) -> None:
    draw = random.Random(f"{variety}{seed}")
    asked = random_question(
        draw, places=variety == "buildings", floors=variety == "floors", several=variety == "several"
    )
    if variety == "records":
        asked = with_records(draw, asked)
    if variety == "carts":
        asked = with_carts(draw, asked)
    answer = solve(asked)
    assert len(answer.given) + len(answer.unserved) == len(asked.jobs)
    for part in split(asked):
        found = solve_part(part)
        assert value(part, found) == best_value(part)
        assert score(part, found.given).levels[Level.LATE] == (best_value(part)[LATE],)


@pytest.mark.parametrize("seed", range(tries(200, 25)))
def test_a_set_that_comes_free_twice_counts_once_for_a_case_that_lacks_two(seed: int) -> None:
    asked = lacking_two(random.Random(f"lacking {seed}"))
    for part in split(asked):
        found = solve_part(part)
        assert value(part, found) == best_value(part)
        assert score(part, found.given).levels[Level.LATE] == (best_value(part)[LATE],)


def test_the_case_that_lacks_two_sets_waits_least_when_the_set_it_could_have_first_goes_to_the_long_case() -> None:
    """C wants two sets at 30 and gets none: one is still dirty until 60, the other comes back from the short case."""
    long, brief = job(60, 180, key="long", weight=3), job(60, 120, key="short", weight=3)
    both = [job(30, 150, key=f"C{number}", case="C", group="C/A") for number in (1, 2)]
    dirty = Copy(id="dirty", kind="A", first={"": Ready(usual=60, least=60)})
    asked = question([long, brief, *both], (dirty, *shelf("A", 1)))
    answer = solve_part(asked)
    assert {given.job: given.copy for given in answer.given} == {"long": "dirty", "short": "A-01"}
    assert score(asked, answer.given).levels[Level.LATE] == ((60 - 30) + (120 - 30),)


@pytest.mark.parametrize("seed", range(tries(60, 10)))
def test_the_quick_way_is_as_good_as_the_exact_one(seed: int) -> None:
    draw = random.Random(seed)
    begins = [draw.randrange(0, 600, 5) for _ in range(draw.randrange(4, 16))]
    jobs = [job(b, b + draw.randrange(60, 200, 5), key=f"{n}") for n, b in enumerate(begins)]
    late = Ready(usual=draw.randrange(0, 100), least=0)
    copies = (*shelf("A", depth(jobs)), Copy(id="A-late", kind="A", first={"": late}))
    asked = question(jobs, copies, margin=30, floors={"A": draw.randrange(2)})
    quick = serve_all(asked)
    if quick is not None:
        assert score(asked, quick) == score(asked, solve_exactly(asked))


@pytest.mark.parametrize("seed", range(tries(25, 8)))
def test_the_greatest_weight_agrees_with_a_min_cost_flow_of_another_library(seed: int) -> None:
    draw = random.Random(seed)
    begins = [draw.randrange(0, 1440, 5) for _ in range(draw.randrange(20, 70))]
    jobs = [
        job(b, b + draw.randrange(60, 400, 5), key=f"{n}", weight=draw.randrange(1, 6)) for n, b in enumerate(begins)
    ]
    sets = draw.randrange(1, 9)
    asked = question(jobs, shelf("A", sets))
    assert -score(asked, solve(asked).given).levels[Level.OPEN][0] == flow_weight(jobs, sets)


def flow_weight(jobs: list[Job], sets: int) -> int:
    """Greatest weight of intervals on so many machines: a flow along the line of their ends."""
    ends = {one.key: one.back["A"][""].usual for one in jobs}
    points = sorted({one.need for one in jobs} | set(ends.values()))
    graph: nx.MultiDiGraph[int] = nx.MultiDiGraph()
    graph.add_node(points[0], demand=-sets)
    graph.add_node(points[-1], demand=sets)
    for before, after in pairwise(points):
        graph.add_edge(before, after, capacity=sets, weight=0)
    for one in jobs:
        graph.add_edge(one.need, ends[one.key], capacity=1, weight=-one.weight)
    return -int(nx.capacity_scaling(graph)[0])


@pytest.mark.parametrize("seed", range(tries(12, 4)))
def test_stand_ins_agree_with_a_program_written_another_way(seed: int) -> None:
    draw = random.Random(seed)
    jobs = []
    for number in range(draw.randrange(15, 40)):
        begins = draw.randrange(0, 900, 5)
        kinds = draw.sample(["A", "B", "C"], draw.randrange(1, 4))
        ends = begins + draw.randrange(60, 300, 5)
        jobs.append(job(begins, ends, *kinds, key=f"{number}", weight=draw.randrange(1, 4)))
    copies = shelf("A", 2) + shelf("B", draw.randrange(1, 4)) + shelf("C", 1)
    asked = question(jobs, copies)
    found = score(asked, solve(asked).given)
    weight, stand_ins = overlap_program(jobs, {"A": 2, "B": len(copies) - 3, "C": 1})
    assert -found.levels[Level.OPEN][0] == weight
    assert found.levels[Level.EXACT][0] == stand_ins


def overlap_program(jobs: list[Job], sets: dict[str, int]) -> tuple[int, int]:
    """Greatest weight, most served, fewest stand-ins: at each need no more jobs of a kind run than there are sets."""
    columns = [(one, option) for one in jobs for option in one.options]
    rows, limits = [], []
    for one in jobs:
        rows.append([float(other is one) for other, _ in columns])
        limits.append(1.0)
        for kind, count in sets.items():
            running = [
                float(option.kind == kind and other.need <= one.need < other.back[kind][""].usual)
                for other, option in columns
            ]
            rows.append(running)
            limits.append(float(count))
    scale = 1000
    costs = [(option.preference > 0) - scale * (1 + scale * one.weight) for one, option in columns]
    found = milp(costs, constraints=LinearConstraint(rows, ub=limits), integrality=1, bounds=Bounds(0, 1))
    served = -int(round(found.fun) // scale)
    return served // scale, round(found.fun + scale * served)


def test_the_smallest_slack_is_kept_when_the_rest_is_weighed() -> None:
    # Slacks of 2 and 2, or of 1 and 3, fall as short of the margin of 6 in all; the smallest counts first.
    jobs = [job(0, 11), job(7, 18), job(6, 20), job(10, 34)]
    copies = tuple(Copy(id=f"A-{n}", kind="A", first={"": Ready(usual=n, least=n)}) for n in (4, 5))
    answer = solve(question(jobs, copies, margin=6))
    assert {one.job: (one.copy, one.slack) for one in answer.given} == {"6-20": ("A-4", 2), "7-18": ("A-5", 2)}


def test_an_exact_match_goes_before_a_stand_in() -> None:
    jobs = [job(0, 100, "A", "B", key="first"), job(10, 110, "B", key="second"), job(20, 120, "A", "B", key="third")]
    answer = solve(question(jobs, shelf("A", 2) + shelf("B", 1)))
    assert {one.job: one.kind for one in answer.given} == {"first": "A", "second": "B", "third": "A"}


def test_a_stand_in_serves_one_way_only() -> None:
    jobs = [job(0, 100, "A", "B", key="takes either"), job(10, 110, "B", key="wants B")]
    assert not solve(question(jobs, shelf("A", 1) + shelf("B", 1))).unserved
    assert solve(question(jobs, shelf("A", 2))).unserved == {"wants B": None}


def test_the_earlier_start_keeps_its_set_on_a_tie() -> None:
    jobs = [job(10, 100, key="early", start=40), job(10, 100, key="late", start=45)]
    asked = question(jobs, shelf("A", 1))
    assert solve(asked).unserved == {"late": 90}
    assert solve(replace(asked, earlier_keeps=False)).unserved == {"early": 90}


def test_several_sets_for_one_case_go_together_or_to_others() -> None:
    pair = [job(0, 100, key=f"pair {n}", group="pair") for n in (1, 2)]
    others = [job(0, 100, key="one", group="one"), job(0, 100, key="two", group="two")]
    assert set(solve(question(pair + others, shelf("A", 2))).unserved) == {"pair 1", "pair 2"}


def test_the_floor_is_kept_at_every_moment_and_given_up_only_to_serve() -> None:
    jobs = [job(0, 100, key="a"), job(120, 200, key="b"), job(130, 210, key="c")]
    asked = question(jobs, shelf("A", 2), floors={"A": 1})
    under = {one.job: one.under for one in solve(asked).given}
    assert under == {"a": 0, "b": 0, "c": 1}


def test_a_rush_is_taken_only_where_usual_minutes_fail() -> None:
    back = {"A": {"": Ready(usual=130, least=100)}}
    jobs = [job(0, 0, key="a", back=back), job(110, 200, key="b")]
    given = solve(question(jobs, shelf("A", 1))).given
    assert [(one.grade, one.slack) for one in given] == [(Grade.CLEAN, None), (Grade.RUSH, -20)]


@pytest.mark.parametrize("seed", range(tries(4, 1)))
def test_a_long_question_cut_at_quiet_nights_serves_as_one_piece_would(seed: int) -> None:
    draw = random.Random(seed)
    jobs = []
    for day in range(6):
        begins = [day * 1440 + draw.randrange(420, 900, 5) for _ in range(25)]
        jobs += [job(b, b + draw.randrange(120, 420, 5), key=f"{day}-{n}") for n, b in enumerate(begins)]
    asked = question(jobs, shelf("A", 7), margin=30)
    assert len(cut(asked)) == 6
    answer, whole = solve(asked), solve_exactly(asked)
    assert value(asked, answer)[:LATE] == value(asked, AllocationAnswer(given=whole, waits={}))[:LATE]


def test_a_set_on_the_built_cart_of_a_case_after_a_quiet_night_is_not_used_before_by_another_case() -> None:
    """Three sets for two days of 70 cases, two at once; one set is on a cart of the second day, when four need one."""
    begins = [day * 1440 + 400 + 12 * number for day in range(2) for number in range(70)]
    jobs = [job(begin, begin + 20, key=f"J{begin:04}") for begin in begins]
    jobs[70] = replace(jobs[70], cart="A-02")
    at_once = [job(2000, 2020, key=f"at once {number}") for number in range(4)]
    answer = solve(question([*jobs, *at_once], shelf("A", 3), margin=0))
    assert answer.unserved
    assert [one.job for one in answer.given if one.copy == "A-02" and not one.after] == ["J1840"]


@pytest.mark.parametrize("unopened", [None, 95])
def test_of_two_cases_at_one_minute_the_rushed_set_goes_to_the_one_that_gives_it_back_first(
    unopened: int | None,
) -> None:
    """Ready 110 usually, 90 in a rush or 95 unopened, needed 100: who goes without waits for it until after the other.

    The quick case gives it back at 200, the long one at 300; at 110 it is free for neither, as it went in a rush.
    """
    first = Copy(id="A-1", kind="A", first={"": Ready(usual=110, least=90, unopened=unopened)})
    answer = solve(question([job(100, 300, key="a long one"), job(100, 200, key="b quick one")], (first,)))
    assert [one.job for one in answer.given] == ["b quick one"]
    assert answer.unserved == {"a long one": 100}
