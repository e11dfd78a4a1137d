"""Parts that ties make, against colours that spread along the ties until nothing changes."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from picklist.sets.parts import joined_parts


@given(st.lists(st.lists(st.integers(0, 30), max_size=4), max_size=30))
def test_that_parts_are_what_ties_join_in_the_order_of_their_first_member(ties: list[list[int]]) -> None:
    named = list(dict.fromkeys(node for tie in ties for node in tie))
    colour = {node: place for place, node in enumerate(named)}
    for _ in named:
        for tie in filter(None, ties):
            colour |= dict.fromkeys(tie, min(colour[node] for node in tie))
    wanted = [{node for node in named if colour[node] == place} for place in dict.fromkeys(colour.values())]
    assert [set(part) for part in joined_parts(ties)] == wanted
