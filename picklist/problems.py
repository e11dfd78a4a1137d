"""What is wrong with the input, where it is, and what would fix it.

A *problem* is for whoever keeps the sheets. What does not fit in the day is a
finding (see ``model.conflicts``); what is wrong in the program is a traceback.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import TypedDict, Unpack


class Severity(StrEnum):
    """How far a problem reaches."""

    STOPS_ALL = "stops everything"
    STOPS_CASE = "stops the case"
    TO_FIX = "to fix"
    NOTICE = "notice"


@dataclass(frozen=True, slots=True, kw_only=True)
class Where:
    """A place in the input: file, sheet, row (1-based, as the user sees it), column header and cell."""

    file: str
    sheet: str = ""
    row: int | None = None
    column: str = ""
    cell: str = ""

    def __str__(self) -> str:
        """File, sheet and the narrowest of cell or row, as a person would read it out."""
        parts = [self.file]
        if self.sheet:
            parts.append(f"sheet {self.sheet}")
        if self.cell:
            parts.append(f"cell {self.cell}")
        elif self.row is not None:
            parts.append(f"row {self.row}")
        if self.column:
            parts.append(f"column {self.column}")
        return ", ".join(parts)

    def at(self, column: str) -> Where:
        """The place of that row under a header."""
        return replace(self, column=column, cell="")


NOWHERE = Where(file="")


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One thing to fix.

    ``kind`` is a stable word for tests and scripts; ``message`` says what is wrong, never what
    the cell holds, and ``expected`` what would be right; ``nearest`` are the valid values closest
    to what was written (``guessed``: made of what was written, not found in a list); ``related``
    are other cells that take part; ``cases`` are the case numbers whose lists this stops.

    ``value`` is what the cell holds, where that may be shown to whoever owns the sheet (see
    ``tables.private``). It is for the screen only: see ``sentence_on_screen`` and ``for_paper``.
    """

    kind: str
    severity: Severity
    where: Where
    message: str
    value: str = ""
    expected: str = ""
    nearest: tuple[str, ...] = ()
    guessed: bool = False
    related: tuple[Where, ...] = ()
    cases: tuple[str, ...] = field(default=())

    @property
    def is_of_a_cell(self) -> bool:
        """Whether one cell of a file is wrong, so that another value in it may do."""
        where = self.where
        return self.severity is not Severity.NOTICE and bool(where.file and where.row and where.column)

    def for_paper(self) -> Problem:
        """The problem as it may be printed and kept: it names the place, and nothing of what is there."""
        if not self.value and not self.guessed:
            return self
        return replace(self, value="", nearest=() if self.guessed else self.nearest, guessed=False)

    def sentence(self) -> str:
        """The whole problem in one line, without its place and without what the cell holds."""
        return self.for_paper()._line("")

    def sentence_on_screen(self) -> str:
        """As ``sentence``, with what the cell holds where that may be shown: never to be printed or kept."""
        return self._line(f" ('{self.value}')" if self.value and self.value not in self.message else "")

    def _line(self, quoted: str) -> str:
        text = self.message + quoted
        if self.expected:
            text += f"; expected {self.expected}"
        text += did_you_mean(self.nearest)
        if self.related:
            text += f" (see also {'; '.join(str(w) for w in self.related)})"
        return text


class Facts(TypedDict, total=False):
    """What a problem may say besides its kind, place and message; see ``Problem``."""

    value: str
    expected: str
    nearest: tuple[str, ...]
    guessed: bool
    related: tuple[Where, ...]
    cases: tuple[str, ...]


def to_fix(kind: str, where: Where, message: str, **facts: Unpack[Facts]) -> Problem:
    """Something that somebody must fix, and that stops no list."""
    return Problem(kind=kind, severity=Severity.TO_FIX, where=where, message=message, **facts)


def notice(kind: str, where: Where, message: str, **facts: Unpack[Facts]) -> Problem:
    """Something worth knowing that nobody has to fix."""
    return Problem(kind=kind, severity=Severity.NOTICE, where=where, message=message, **facts)


def did_you_mean(nearest: Iterable[str]) -> str:
    """The values closest to what was written, as the end of a sentence; empty without any."""
    words = " or ".join(nearest)
    return f"; did you mean {words}?" if words else ""


GRAVEST_FIRST = tuple(Severity)


def join_problems(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    """Problems with each fault once, where it was found first: the same kind, place and message for several cases.

    The joined problem names the cases of all of them and is as grave as the gravest.
    """
    joined: dict[tuple[str, Where, str], Problem] = {}
    for problem in problems:
        key = (problem.kind, problem.where, problem.message)
        before = joined.setdefault(key, problem)
        if before is not problem:
            gravest = min(before.severity, problem.severity, key=GRAVEST_FIRST.index)
            cases = tuple(dict.fromkeys(before.cases + problem.cases))
            joined[key] = replace(before, severity=gravest, cases=cases)
    return tuple(joined.values())


def must_be_fixed(problems: tuple[Problem, ...]) -> bool:
    """Whether any problem is more than a notice, so that the command ends with exit code 1."""
    return any(p.severity is not Severity.NOTICE for p in problems)
