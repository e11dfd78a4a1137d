"""The ids that a site's tables know, and those whose rows cannot be used."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from picklist.tables.drafts import Draft
from picklist.tables.nearest import Candidates

Causes = tuple[Draft, ...]


def fold(text: str) -> str:
    """An id for matching: no case. Spaces are tidied already where cells are parsed."""
    return text.casefold()


@dataclass(slots=True)
class Names:
    """The ids of one table: those known, and those whose row cannot be used with the problems that say why.

    ``open``: the table was not given and need not be, so any id passes. ``absent``: the problems
    for which the table is not there; an id that refers to it shares them.
    """

    table: str
    known: dict[str, str] = field(default_factory=dict)
    spoken: dict[str, str] = field(default_factory=dict)
    broken: dict[str, Causes] = field(default_factory=dict)
    open: bool = False
    absent: Causes = ()
    _candidates: Candidates | None = None

    def add(self, one: str, name: str = "") -> None:
        """Note a valid id and the name it is spoken of by."""
        self.known[fold(one)] = one
        self.spoken[one] = name
        self._candidates = None

    def break_(self, one: str, causes: Iterable[Draft]) -> None:
        """Note that an id's row cannot be used."""
        self.broken[fold(one)] = (*self.broken.get(fold(one), ()), *causes)
        self.known.pop(fold(one), None)

    def forget_looks(self) -> None:
        """Drop what was made to find the nearest ids: how many were looked for before plays no part from now on."""
        self._candidates = None

    def nearest(self, written: str) -> tuple[str, ...]:
        """Valid ids closest to what was written; those that differ by leading zeros come first."""
        if written.isdigit():
            digits = written.lstrip("0")
            alike = tuple(one for one in self.spoken if one.lstrip("0") == digits)
            if alike:
                return alike[:3]
        if self._candidates is None:
            self._candidates = Candidates(self.spoken)
        return self._candidates.nearest(written)
