"""Names and places in the order in which people read and walk them."""

from __future__ import annotations

from collections.abc import Mapping

from picklist.letters import NaturalKey, natural_key
from picklist.model.catalogue import Place

WalkingKey = tuple[int, int, NaturalKey]


def walking_key(places: Mapping[str, Place], place: str) -> WalkingKey:
    """A sort key for the walk: places with a walking order by it, then the others by name, then none."""
    known = places.get(place)
    if not place.strip():
        return (2, 0, natural_key(place))
    if known is None or known.order is None:
        return (1, 0, natural_key(place))
    return (0, known.order, natural_key(place))
