"""One question to its answer: split into independent parts, each by the quick way or exactly."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace

import networkx as nx

from picklist.sets.allocation.exact import solve_exactly
from picklist.sets.allocation.quick import serve_all
from picklist.sets.allocation.score import with_floors
from picklist.sets.allocation.stretches import cut, join
from picklist.sets.allocation.terms import Answer, Coming, Given, Question
from picklist.sets.allocation.waits import soonest_sets


def solve(question: Question) -> Answer:
    """The best allocation by every objective of ``terms.Score``; parts that share no set are solved apart."""
    given: dict[str, Given] = {}
    waits: dict[str, Coming | None] = {}
    for part in split(question):
        one = solve_part(part)
        given |= {each.job: each for each in one.given}
        waits |= one.waits
    order = [job.key for job in question.jobs]
    return Answer(
        given=tuple(given[key] for key in order if key in given),
        waits={key: waits[key] for key in order if key in waits},
    )


def solve_part(question: Question) -> Answer:
    """The best allocation of a question that is not split further."""
    given = serve_all(question)
    if given is None:
        stretches = cut(question)
        parts = [_solve_stretch(part) for part in stretches]
        given = parts[0] if len(parts) == 1 else join(question, parts)
    given = with_floors(question, given)
    return Answer(given=given, waits=soonest_sets(question, given))


def _solve_stretch(question: Question) -> tuple[Given, ...]:
    given = serve_all(question)
    return solve_exactly(question) if given is None else given


def split(question: Question) -> tuple[Question, ...]:
    """Parts with no tray in common, in a stable order."""
    graph: nx.Graph[tuple[str, str]] = nx.Graph()
    for kind, pool in question.pools.items():
        graph.add_edge(("kind", kind), ("pool", pool))
    for kinds in {tuple(option.kind for option in job.options) for job in question.jobs}:
        nx.add_path(graph, [("kind", kind) for kind in kinds])
    part_of: dict[tuple[str, str], int] = {}
    for number, nodes in enumerate(nx.connected_components(graph)):
        part_of |= dict.fromkeys(nodes, number)
    jobs, copies = defaultdict(list), defaultdict(list)
    for job in question.jobs:
        # A job that no set may serve is a part of its own.
        node = ("kind", job.options[0].kind) if job.options else ("job", job.key)
        jobs[part_of.setdefault(node, len(part_of) + len(question.jobs))].append(job)
    for copy in question.copies:
        copies[part_of["kind", copy.kind]].append(copy)
    pools: defaultdict[int, dict[str, str]] = defaultdict(dict)
    for kind, pool in question.pools.items():
        pools[part_of["kind", kind]][kind] = pool
    return tuple(
        replace(question, jobs=tuple(jobs[part]), copies=tuple(copies[part]), pools=pools[part])
        for part in sorted(jobs, key=lambda number: jobs[number][0].key)
    )
