"""What ties join, directly or by way of others."""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from typing import TypeVar

Node = TypeVar("Node", bound=Hashable)


def joined_parts(ties: Iterable[Iterable[Node]]) -> tuple[frozenset[Node], ...]:
    """The parts that ties make of what they name, in the order in which each part is named first.

    A tie joins all that it names; of one thing alone, it says only that there is such a thing.
    """
    part_of: dict[Node, list[Node]] = {}
    for tie in ties:
        joined: list[Node] = []
        for node in tie:
            part = part_of.setdefault(node, [node])
            if part is joined:
                continue
            fewer, joined = sorted((part, joined), key=len)  # each node changes its part at most log n times
            joined += fewer
            part_of.update(dict.fromkeys(fewer, joined))
    return tuple(frozenset(part) for part in {id(part): part for part in part_of.values()}.values())
