"""What the answers to one scan come to, in one word: for whoever stands two metres from the screen."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum

from picklist.evening.scan_answers import ScanAnswer, ScanKind, Weight


class Verdict(StrEnum):
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
    RIGHT = "right"


EXPIRED = "expired"  # the kind of problem
_OF_KIND = {
    ScanKind.NOT_LISTED: Verdict.SURPLUS,
    ScanKind.MORE_THAN_LISTED: Verdict.SURPLUS,
    ScanKind.MISSING: Verdict.MISSING,
    ScanKind.STILL_MISSING: Verdict.MISSING,
    ScanKind.WAITS: Verdict.MISSING,
    ScanKind.OPENED: Verdict.CART,
    ScanKind.OPEN_ALREADY: Verdict.CART,
    ScanKind.DONE: Verdict.BUILT,
    ScanKind.ASKS: Verdict.NEXT,
    ScanKind.UNDONE: Verdict.UNDONE,
}
_OF_CARTS = frozenset({Verdict.CART, Verdict.BUILT, Verdict.UNDONE})
# Said beside what the scan itself came to.
_BESIDE = frozenset({ScanKind.LEFT_OPEN, ScanKind.OTHER_LAYOUT})
_ORDER = tuple(Verdict)


def gravest(answers: Sequence[ScanAnswer]) -> ScanAnswer:
    """The answer that must be seen first; there is at least one."""
    said = [one for one in answers if one.kind not in _BESIDE] or answers
    return min(said, key=lambda one: _ORDER.index(verdict_of(one)))


def about(one: ScanAnswer) -> str:
    """The thing or the cart that an answer is about; empty for a scan that is nothing known."""
    return one.thing or (one.case if verdict_of(one) in _OF_CARTS else "")


def verdict_of(one: ScanAnswer) -> Verdict:
    """What one answer comes to by itself."""
    if one.problem and one.problem.kind == EXPIRED:
        return Verdict.EXPIRED
    if one.kind is ScanKind.SCANNED_TWICE:
        return Verdict.LOOK
    if not one.recorded:
        return Verdict.WRONG
    if one.weight is Weight.FIX:
        return Verdict.LOOK
    return _OF_KIND.get(one.kind, Verdict.LOOK if one.weight is Weight.LOOK else Verdict.RIGHT)
