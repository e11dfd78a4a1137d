"""A sheet or a CSV file as a grid of raw cells."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any


@dataclass(slots=True, kw_only=True)
class Grid:
    """Raw cells as lists of lists; ``sheet`` is empty for a CSV file.

    ``hidden_rows`` are row numbers (1-based), ``hidden_columns`` column indexes (0-based),
    ``merged`` ranges as (first row, first column, last row, last column), all 0-based.
    """

    file: str
    sheet: str
    rows: list[Any]
    hidden: bool = False
    hidden_rows: frozenset[int] = frozenset()
    hidden_columns: frozenset[int] = frozenset()
    merged: tuple[tuple[int, int, int, int], ...] = ()
    notes: list[str] = field(default_factory=list)

    @property
    def is_csv(self) -> bool:
        """Whether it came from a CSV file."""
        return not self.sheet
