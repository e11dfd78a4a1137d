"""How far a long piece of work is, in words."""

from __future__ import annotations

from picklist.wording.quantities import rest_time


class WorkStep(str):
    """How far work is, in words; ``doing`` names the kind of work.

    ``share``: how much of it is done, from 0 to 1; None where that is not counted.
    """

    __slots__ = ("doing", "share")
    doing: str
    share: float | None

    @classmethod
    def of(cls, doing: str, done: int = 0, of: int = 0, left: float | None = None, what: str = "") -> WorkStep:
        """``Looking for remedies, 3 of 62 done, about 2 min left``; ``left`` in seconds, ``what`` was done last."""
        counted = f", {done} of {of} done{rest_time(left)}" if done else ""
        step = cls(f"{doing}{counted}{f': {what}' if what else ''}")
        step.doing, step.share = doing, done / of if of else None
        return step
