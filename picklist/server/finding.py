"""Words that are looked for in the rows of a page."""

from __future__ import annotations

import re

from picklist.server.visit import Visit

LONGEST = 80
SHORT = 3


def asked_words(visit: Visit) -> str:
    """What the address asks to find."""
    return visit.asked.get("find", "").strip()[:LONGEST]


def holds_words(find: str, *texts: str) -> bool:
    """Whether every word stands somewhere in a row; a short one, as the 7 of ``OR 7``, as a word of its own."""
    said = " ".join(texts).casefold()
    whole = set(re.split(r"[\W_]+", said)) | set(said.split())
    return all(word in whole or (len(word) >= SHORT and word in said) for word in find.casefold().split())
