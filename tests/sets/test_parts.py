"""Parts that ties make, against networkx's connected components."""

from __future__ import annotations

import networkx as nx
from hypothesis import given
from hypothesis import strategies as st

from picklist.sets.parts import joined_parts


@given(st.lists(st.lists(st.integers(0, 30), max_size=4), max_size=30))
def test_that_parts_are_connected_components_in_the_order_of_their_first_member(ties: list[list[int]]) -> None:
    graph: nx.Graph[int] = nx.Graph()
    for tie in ties:
        nx.add_path(graph, tie)
    parts = joined_parts(ties)
    assert [set(part) for part in parts] == list(nx.connected_components(graph))
    assert sum(map(len, parts)) == len(graph)
