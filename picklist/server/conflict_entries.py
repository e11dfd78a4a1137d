"""Conflicts for the pages, in the words of the conflict sheet."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from picklist import wording
from picklist.model.conflicts import Conflict
from picklist.model.known import NOTHING_KNOWN, Decision, conflict_key
from picklist.tasks.shown import ConflictBlock, Lookup


@dataclass(frozen=True, slots=True, kw_only=True)
class ConflictEntry:
    """One conflict in the words of the conflict sheet, and the numbers under which its remedies can be tried."""

    id: str
    cases: str
    block: ConflictBlock
    tries: tuple[int, ...]
    about: str
    said: Decision | None


def conflict_entries(
    found: Lookup, conflicts: Iterable[Conflict], told: Mapping[str, Decision] = NOTHING_KNOWN.decided
) -> tuple[ConflictEntry, ...]:
    """Some conflicts, the one to decide soonest first; ``told`` is the last word on each, by its key."""
    ordered = sorted(conflicts, key=lambda one: one.urgency)
    return tuple(_entry(found, one, told.get(conflict_key(one))) for one in ordered)


def _entry(found: Lookup, one: Conflict, said: Decision | None) -> ConflictEntry:
    return ConflictEntry(
        id=one.id,
        cases=wording.listed(found.case_in_room(case) for case in dict.fromkeys((*one.givers, one.waiter))),
        block=ConflictBlock(found, one),
        tries=tuple(number for number, remedy in enumerate(one.remedies) if remedy.edits),
        about=conflict_key(one),
        said=said,
    )
