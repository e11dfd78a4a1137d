"""The one report of a build's progress: what is being done, how much of it is done, and how long the rest takes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from time import monotonic

from picklist.wording.steps import WorkStep

MOMENT = 0.02  # seconds
FEW = 3  # pieces of work before it can be said how long the rest takes


@dataclass(slots=True)
class _Pace:
    """The seconds that pieces of one kind of work took, and how many of them took their time."""

    spent: float = 0.0
    pieces: int = 0


class Report:
    """Tells each step with the time for the rest of its kind, judged by those pieces that took their time so far.

    Several within a moment were done before. What is done between two pieces of a kind does not count for it.
    """

    def __init__(self, tell: Callable[[str], None]) -> None:
        self._tell = tell
        self._paces: dict[str, _Pace] = {}
        self._doing, self._last = "", 0.0

    def __call__(self, doing: str, done: int = 0, of: int = 0, what: str = "") -> None:
        """So many of a kind of work are done now, ``what`` as the last one."""
        now = monotonic()
        pace = self._paces.setdefault(doing, _Pace())
        if done and doing == self._doing:
            pace.spent += now - self._last
            pace.pieces += now - self._last > MOMENT
        self._doing, self._last = doing, now
        known = pace.pieces >= FEW and done < of
        self._tell(WorkStep.of(doing, done, of, pace.spent / pace.pieces * (of - done) if known else None, what))
