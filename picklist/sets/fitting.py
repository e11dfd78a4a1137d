"""Whether a set is of the side and size that is wanted."""

from __future__ import annotations

from typing import Protocol

from picklist.letters import bare
from picklist.model.catalogue import Tray
from picklist.model.schedule import Side


class OfSideAndSize(Protocol):
    """Anything that has a side and a size: a set, a use or a need."""

    @property
    def side(self) -> Side | None:
        """Left, right or both; None where there is none."""

    @property
    def size(self) -> str:
        """Empty for any."""


def fits(tray: Tray | None, one: OfSideAndSize, wanted: OfSideAndSize) -> bool:
    """Whether a set's side and size match what is wanted. A sided tray's set must be of the side that is stated."""
    if tray is not None and tray.sided and (wanted.side is None or one.side not in (wanted.side, Side.BOTH)):
        return False
    if not (one.size and wanted.size) or one.size == wanted.size:
        return True
    return bare(one.size) == bare(wanted.size)
