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


def fits_side(tray: Tray | None, one: OfSideAndSize, wanted: OfSideAndSize) -> bool:
    """Whether a set is of the side that is wanted, where its tray is sided."""
    return tray is None or not tray.sided or (wanted.side is not None and one.side in (wanted.side, Side.BOTH))


def fits(tray: Tray | None, one: OfSideAndSize, wanted: OfSideAndSize) -> bool:
    """Whether a set's side and size match what is wanted. A sided tray's set must be of the side that is stated."""
    if not fits_side(tray, one, wanted):
        return False
    if not (one.size and wanted.size) or one.size == wanted.size:
        return True
    return bare(one.size) == bare(wanted.size)
