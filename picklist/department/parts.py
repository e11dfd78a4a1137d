"""Departments that share nothing: jobs that have no station in common, and no set that goes to both, run apart."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

import networkx as nx

from picklist.department.work import Job

Node = tuple[str, str | int]


def split_jobs(jobs: Sequence[Job]) -> tuple[tuple[Job, ...], ...]:
    """The jobs in groups that never wait for one another, each in the order given; ``follows`` counts in the group."""
    graph: nx.Graph[Node] = nx.Graph()
    for place, job in enumerate(jobs):
        graph.add_node(("job", place))
        graph.add_edges_from((("job", place), ("station", step.station)) for step in job.steps if step.station)
        if job.follows is not None:
            graph.add_edge(("job", place), ("job", job.follows))
    group_of = {node: n for n, nodes in enumerate(nx.connected_components(graph)) for node in nodes}
    groups: dict[int, list[int]] = defaultdict(list)
    for place in range(len(jobs)):
        groups[group_of["job", place]].append(place)
    return tuple(_group(jobs, places) for places in groups.values())


def stations_of(jobs: Sequence[Job]) -> frozenset[str]:
    """The stations that the jobs go through."""
    return frozenset(step.station for job in jobs for step in job.steps if step.station)


def _group(jobs: Sequence[Job], places: Sequence[int]) -> tuple[Job, ...]:
    new = {place: n for n, place in enumerate(places)}
    chosen = (jobs[place] for place in places)
    return tuple(job if job.follows is None else replace(job, follows=new[job.follows]) for job in chosen)
