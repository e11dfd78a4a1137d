"""Conflicts for the pages, in the words of the conflict sheet."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from picklist import wording
from picklist.model.conflicts import Conflict
from picklist.model.known import NOTHING_KNOWN, Decision, conflict_key
from picklist.tasks.shown import ConflictBlock, Lookup


class ConflictEntry:
    """One conflict in the words of the conflict sheet, and the numbers under which its remedies can be tried.

    ``said`` is the last word on it.
    """

    def __init__(self, found: Lookup, one: Conflict, said: Decision | None) -> None:
        self.id = one.id
        self.cases = wording.listed(found.case_in_room(case) for case in dict.fromkeys((*one.givers, one.waiter)))
        self.block = ConflictBlock(found, one)
        self.tries = tuple(number for number, remedy in enumerate(one.remedies) if remedy.edits)
        self.about = conflict_key(one)
        self.said = said


def conflict_entries(
    found: Lookup, conflicts: Iterable[Conflict], told: Mapping[str, Decision] = NOTHING_KNOWN.decided
) -> tuple[ConflictEntry, ...]:
    """Some conflicts, the one to decide soonest first; ``told`` is the last word on each, by its key."""
    ordered = sorted(conflicts, key=lambda one: one.urgency)
    return tuple(ConflictEntry(found, one, told.get(conflict_key(one))) for one in ordered)
