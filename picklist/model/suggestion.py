"""What past cases say about a line of a card."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from picklist.model.cards import ThingKind

LEAST_CASES = 5  # with fewer, nothing is suggested


class SuggestionKind(StrEnum):
    """What was seen in every case."""

    OPENED_NEVER_USED = "opened, never used"
    HELD_ALWAYS_OPENED = "held, always opened"
    ALWAYS_ADDED = "always added by hand"


@dataclass(frozen=True, slots=True, kw_only=True)
class Suggestion:
    """A line of a surgeon's card for a procedure (or several on one case) that the past speaks against.

    ``cases`` are those in which it was reported, out of ``told_cases`` of this surgeon and procedure
    with any usage reported. The other numbers are sums over these cases; ``held_opened`` are those of
    the held ones that were opened.
    """

    kind: SuggestionKind
    surgeon: str
    procedures: tuple[str, ...]
    thing_kind: ThingKind
    thing: str
    cases: int
    told_cases: int
    planned_hold: int
    opened: int
    held_opened: int
    used: int
    added: int
