"""Names and places in the order in which people read and walk them."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import lru_cache

from picklist.model.catalogue import Place

NaturalKey = tuple[tuple[tuple[int, int, str], ...], str]
WalkingKey = tuple[int, int, NaturalKey]

_NUMBERS = re.compile(r"(\d+)")


@lru_cache(maxsize=65536)  # the same few places and lots are compared again and again
def natural_key(text: str) -> NaturalKey:
    """A sort key that counts numbers as numbers and ignores case: A-2-10 after A-2-1, before A-10-2.

    Names that differ only in case or leading zeros follow each other, in a stable order.
    """
    parts = (part for part in _NUMBERS.split(text.strip().casefold()) if part)
    return tuple((0, int(part), "") if part.isdecimal() else (1, 0, part) for part in parts), text


def walking_key(places: Mapping[str, Place], place: str) -> WalkingKey:
    """A sort key for the walk: places with a walking order by it, then the others by name, then none."""
    known = places.get(place)
    if not place.strip():
        return (2, 0, natural_key(place))
    if known is None or known.order is None:
        return (1, 0, natural_key(place))
    return (0, known.order, natural_key(place))
