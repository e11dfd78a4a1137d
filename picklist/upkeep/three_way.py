"""Three-way comparison of one slot: what was sent, what the master says now, what the office wants."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TypeVar

from picklist.upkeep.slots import RowValue, same_want

T = TypeVar("T")


class Verdict(StrEnum):
    """What a comparison comes to."""

    UNCHANGED = "unchanged"
    ALREADY = "the master says so already"
    CLEAN = "a clean change"
    CLASH = "a clash"


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """The outcome, and for a clean change what is wanted now."""

    outcome: Verdict
    want: RowValue | None = None


def compare_wants(sent: RowValue | None, now: RowValue | None, office: RowValue | None) -> Compared:
    """Compare a slot three ways. Quantities with the thing, and the note, are compared apart.

    An office that changed a note while somebody else changed the quantity is no clash.
    """
    if same_want(sent, office):
        return Compared(outcome=Verdict.UNCHANGED)
    if same_want(now, office):
        return Compared(outcome=Verdict.ALREADY)
    if same_want(now, sent):
        return Compared(outcome=Verdict.CLEAN, want=_counted_as(now, office))
    if sent is None or now is None or office is None:
        return Compared(outcome=Verdict.CLASH)
    return _compare_parts(sent, now, office)


def _compare_parts(sent: RowValue, now: RowValue, office: RowValue) -> Compared:
    core = _one_side(sent.core, now.core, office.core)
    note = _one_side(sent.note, now.note, office.note)
    if core is None or note is None:
        return Compared(outcome=Verdict.CLASH)
    from_whom = now if core == now.core else office
    merged = replace(from_whom, note=note, counted=now.counted)
    if merged.same_as(now):
        return Compared(outcome=Verdict.ALREADY)
    return Compared(outcome=Verdict.CLEAN, want=merged)


def _one_side(sent: T, now: T, office: T) -> T | None:
    """The value of whichever side changed it; None when both did, each in its own way."""
    if office in (sent, now):
        return now
    return office if now == sent else None


def _counted_as(now: RowValue | None, office: RowValue | None) -> RowValue | None:
    """An office does not see how a line is counted, so that stays as it is."""
    return replace(office, counted=now.counted) if now and office else office
