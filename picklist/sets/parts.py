"""What ties join, directly or by way of others."""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from typing import TypeVar

Node = TypeVar("Node", bound=Hashable)


def joined_parts(ties: Iterable[Iterable[Node]]) -> tuple[frozenset[Node], ...]:
    """The parts that ties make of what they name, in the order in which each part is named first.

    A tie joins all that it names; of one thing alone, it says only that there is such a thing.
    """
    import networkx as nx  # it takes a while to load, and a command that plans nothing needs no parts

    graph: nx.Graph[Node] = nx.Graph()
    for tie in ties:
        nx.add_path(graph, tie)
    return tuple(map(frozenset, nx.connected_components(graph)))
