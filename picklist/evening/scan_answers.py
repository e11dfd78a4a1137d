"""What of an answer to a scan may be shown, the problem that it reports, and what it comes to in one word."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from enum import StrEnum

from picklist.clock import SiteClock
from picklist.model.scan_answer import ADVICE, ScanAnswer, ScanKind, Weight
from picklist.problems import Problem, Severity
from picklist.tables.private import may_be_quoted
from picklist.wording.say_scans import message, scan_words


def say(answer: ScanAnswer, clock: SiteClock) -> str:
    """An answer in words, for a screen of one line."""
    return scan_words(_shown(answer), clock)


def as_problem(answer: ScanAnswer, clock: SiteClock) -> Problem | None:
    """The problem that an answer reports; None for one that only says what was recorded."""
    if answer.problem is not None:
        return answer.problem
    if answer.weight is Weight.DONE or answer.kind in ADVICE:
        return None
    return Problem(
        kind=answer.kind.value,
        severity=Severity.NOTICE if answer.weight is Weight.LOOK else Severity.TO_FIX,
        where=answer.where,
        message=message(replace(answer, scan=""), clock).rstrip("."),
        value=answer.scan if may_be_quoted(answer.scan, answer.nearest) else "",
        nearest=answer.nearest,
    )


def _shown(answer: ScanAnswer) -> ScanAnswer:
    """The answer without what was scanned, or the case that it was taken for, where that may not be shown."""
    shown = answer.kind is ScanKind.ASKS or may_be_quoted(answer.scan, answer.nearest)  # a word of ours asks
    known = answer.kind is not ScanKind.UNKNOWN_CASE or may_be_quoted(answer.case, answer.nearest)
    return replace(
        answer,
        scan=answer.scan if shown else "",
        case=answer.case if known else "",
        undone=_shown(answer.undone) if answer.undone else None,
    )


class ScanVerdict(StrEnum):
    """The words, those that must be seen first before the others."""

    WRONG = "wrong"  # nothing was recorded
    EXPIRED = "expired"
    SURPLUS = "surplus"  # recorded, and beyond what the list asks for
    LOOK = "look"
    MISSING = "still missing"
    CART = "cart open"
    BUILT = "built"
    NEXT = "next"  # a word waits for what follows it
    UNDONE = "undone"
    OK = "OK"  # not "right", which is a side


EXPIRED = "expired"  # the kind of problem
_OF_KIND = {
    ScanKind.NOT_LISTED: ScanVerdict.SURPLUS,
    ScanKind.MORE_THAN_LISTED: ScanVerdict.SURPLUS,
    ScanKind.MISSING: ScanVerdict.MISSING,
    ScanKind.STILL_MISSING: ScanVerdict.MISSING,
    ScanKind.WAITS: ScanVerdict.MISSING,
    ScanKind.OPENED: ScanVerdict.CART,
    ScanKind.OPEN_ALREADY: ScanVerdict.CART,
    ScanKind.DONE: ScanVerdict.BUILT,
    ScanKind.ASKS: ScanVerdict.NEXT,
    ScanKind.UNDONE: ScanVerdict.UNDONE,
}
_OF_CARTS = frozenset({ScanVerdict.CART, ScanVerdict.BUILT, ScanVerdict.UNDONE})
# Said beside what the scan itself came to.
_BESIDE = frozenset({ScanKind.LEFT_OPEN, ScanKind.OTHER_LAYOUT})
_ORDER = tuple(ScanVerdict)


def gravest(answers: Sequence[ScanAnswer]) -> ScanAnswer:
    """The answer that must be seen first; there is at least one."""
    said = [one for one in answers if one.kind not in _BESIDE] or answers
    return min(said, key=lambda one: _ORDER.index(verdict_of(one)))


def about(one: ScanAnswer) -> str:
    """The thing or the cart that an answer is about; empty for a scan that is nothing known."""
    return one.thing or (one.case if verdict_of(one) in _OF_CARTS else "")


def verdict_of(one: ScanAnswer) -> ScanVerdict:
    """What one answer comes to by itself."""
    if one.problem and one.problem.kind == EXPIRED:
        return ScanVerdict.EXPIRED
    if one.kind is ScanKind.SCANNED_TWICE:
        return ScanVerdict.LOOK
    if not one.recorded:
        return ScanVerdict.WRONG
    if one.weight is Weight.FIX:
        return ScanVerdict.LOOK
    return _OF_KIND.get(one.kind, ScanVerdict.LOOK if one.weight is Weight.LOOK else ScanVerdict.OK)
