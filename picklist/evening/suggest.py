"""What the past says about a card: lines that may be wrong, with the counts behind each.

Counts are shown and no more is claimed: a card is changed by the surgeon's office, not by a count.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import reduce

from picklist.evening.usage import UsageLine, together, used_of_opened
from picklist.grouping import grouped
from picklist.model.cards import ThingKind
from picklist.model.suggestion import LEAST_CASES, Suggestion, SuggestionKind


def suggest(history: Sequence[UsageLine], least_cases: int = LEAST_CASES) -> tuple[Suggestion, ...]:
    """Lines that were opened and never used, held and always opened, or always added by hand.

    Each by surgeon and exactly these procedures together. Fewer cases than ``least_cases``
    suggest nothing. Things of the staff's sizes (gloves, gowns) are not judged.
    """
    found = []
    for card, lines in sorted(grouped(((line.surgeon, line.procedures), line) for line in history).items()):
        told = len({(line.day, line.case) for line in lines})
        things = grouped(((line.kind, line.thing), line) for line in lines if not line.person)
        for thing, some in sorted(things.items()):
            cases = list(grouped(((line.day, line.case), line) for line in some).values())
            if len(cases) < least_cases:
                continue
            kind = _kind(cases, told)
            if kind:
                found.append(_suggestion(kind, card, thing, cases, told))
    return tuple(found)


_Card = tuple[str, tuple[str, ...]]
_Thing = tuple[ThingKind, str]


def _kind(cases: Sequence[Sequence[UsageLine]], told_cases: int) -> SuggestionKind | None:
    """What is true of every single case; of several, what wastes most comes first."""
    sums = [reduce(together, case) for case in cases]
    if all(one.open and one.opened and not one.used for one in sums):
        return SuggestionKind.OPENED_NEVER_USED
    if all(one.hold and _opened_of_held(one) > 0 for one in sums):
        return SuggestionKind.HELD_ALWAYS_OPENED
    if len(cases) == told_cases and all(one.added for one in sums):
        return SuggestionKind.ALWAYS_ADDED
    return None


def _opened_of_held(line: UsageLine) -> int:
    """How many of those on hold were opened: what was opened beyond the ones to open and to add."""
    return max(0, min(line.hold, line.opened - line.open - line.added))


def _suggestion(
    kind: SuggestionKind, card: _Card, thing: _Thing, cases: Sequence[Sequence[UsageLine]], told_cases: int
) -> Suggestion:
    lines = [line for case in cases for line in case]
    used, opened = used_of_opened(lines)
    return Suggestion(
        kind=kind,
        surgeon=card[0],
        procedures=card[1],
        thing_kind=thing[0],
        thing=thing[1],
        cases=len(cases),
        told_cases=told_cases,
        planned_hold=sum(line.hold for line in lines),
        opened=opened,
        held_opened=sum(_opened_of_held(reduce(together, case)) for case in cases),
        used=used,
        added=sum(line.added for line in lines),
    )
