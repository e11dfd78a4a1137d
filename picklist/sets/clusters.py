"""Cases tied together by conflicts, found in the graph of cases that pass sets to each other."""

from __future__ import annotations

from collections.abc import Iterable

import networkx as nx

from picklist.model.conflicts import Cluster, Conflict
from picklist.model.uses import Reuse


def shared_tray_graph(reuses: Iterable[Reuse]) -> nx.MultiDiGraph[str]:
    """Cases as nodes, an edge for each set that one passes on to another."""
    graph: nx.MultiDiGraph[str] = nx.MultiDiGraph()
    for reuse in reuses:
        graph.add_node(reuse.waiter)
        if reuse.giver:
            graph.add_edge(reuse.giver, reuse.waiter, set_id=reuse.set_id, tray=reuse.tray, slack=reuse.slack)
    return graph


def make_clusters(conflicts: Iterable[Conflict], reuses: Iterable[Reuse]) -> tuple[Cluster, ...]:
    """Conflicts that share a case, or whose cases pass a set on that is in conflict, as one entry each.

    Clusters and their conflicts keep the order in which they are given; a cluster is named
    for the first case that waits in it.
    """
    ordered = list(conflicts)
    shared = shared_tray_graph(reuses)
    tied: nx.Graph[str] = nx.Graph()
    for conflict in ordered:
        tied.add_node(conflict.waiter)
        tied.add_edges_from((giver, conflict.waiter) for giver in conflict.givers)
        if conflict.waiter in shared:
            close = [giver for giver, _, edge in shared.in_edges(conflict.waiter, data=True) if edge["slack"] < 0]
            tied.add_edges_from((case, conflict.waiter) for case in close)
    place = {case: number for number, nodes in enumerate(nx.connected_components(tied)) for case in nodes}
    grouped: dict[int, list[Conflict]] = {}
    for conflict in ordered:
        grouped.setdefault(place[conflict.waiter], []).append(conflict)
    return tuple(_cluster(group, tied) for group in grouped.values())


def _cluster(conflicts: list[Conflict], tied: nx.Graph[str]) -> Cluster:
    cases = nx.node_connected_component(tied, conflicts[0].waiter)
    return Cluster(id=conflicts[0].id, cases=tuple(sorted(cases)), conflicts=tuple(conflicts))
