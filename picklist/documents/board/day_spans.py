"""Stretches and instants of a set's day as shares of the board's width."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from picklist.documents.board.axis import Axis

CART, BOUND, HAUL, WAIT, STEP, READY, BARRED, LATE, WANTED = (
    "cart", "bound", "haul", "wait", "step", "ready", "barred", "late", "wanted",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class DaySpan:
    """A stretch of a set's day. ``half`` is 1 or 2 where steps run beside each other, else 0."""

    kind: str
    left: float
    width: float
    text: str
    title: str
    half: int = 0
    href: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """An instant of a set's day.

    Its kind is needed, ready, sooner (ready in today's queue, where that is sooner), unopened (ready if
    it stays unopened) or deadline (the latest of an act).
    """

    kind: str
    at: float
    text: str
    title: str


def piece(axis: Axis, kind: str, stretch: tuple[datetime, datetime], text: str, title: str) -> DaySpan:
    """A stretch of time as a stretch of the width."""
    left, right = axis.at(stretch[0]), axis.at(stretch[1])
    return DaySpan(kind=kind, left=left, width=round(right - left, 2), text=text, title=title)


def mark(axis: Axis, kind: str, instant: datetime, text: str, title: str) -> Mark:
    """An instant of time as a place on the width."""
    return Mark(kind=kind, at=axis.at(instant), text=text, title=title)


def on_board(pieces: list[DaySpan]) -> tuple[DaySpan, ...]:
    """The pieces of which something is seen."""
    return tuple(one for one in pieces if one.width > 0)
