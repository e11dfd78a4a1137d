"""Problems while they are being gathered: which cases one stops is often known only at the end."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

from picklist.problems import Problem, Severity, Where
from picklist.tables.private import may_be_quoted


@dataclass(slots=True, eq=False)
class Draft:
    """A problem that may still learn which cases it stops."""

    problem: Problem
    cases: dict[str, None] = field(default_factory=dict)

    def change(self, **facts: Any) -> None:
        """Say something else in some of its fields."""
        self.problem = replace(self.problem, **facts)

    def stop(self, case: str) -> None:
        """Let this problem stop a case's list."""
        if self.problem.severity is not Severity.STOPS_ALL:
            self.change(severity=Severity.STOPS_CASE)
        self.cases[case] = None

    def finished(self) -> Problem:
        """The problem as it is now."""
        return replace(self.problem, cases=tuple(self.cases))


class Ledger:
    """All drafts of one reading, in the order in which they were found."""

    def __init__(self, today: date | None = None) -> None:
        """Start empty; ``today`` tells a coming date from what could be a date of birth."""
        self.today = today
        self.drafts: list[Draft] = []

    def report(
        self,
        kind: str,
        where: Where,
        message: str,
        *,
        severity: Severity = Severity.TO_FIX,
        value: str = "",
        expected: str = "",
        nearest: Iterable[str] = (),
        guessed: bool = False,
        related: tuple[Where, ...] = (),
    ) -> Draft:
        """Note a problem; the draft is given back so that cases can be added.

        ``value`` is what the cell holds: it goes on only where it may be shown. ``guessed``: ``nearest``
        is made of it, and goes on with it.
        """
        nearest = tuple(nearest)
        if value and not may_be_quoted(value, nearest, self.today):
            value, nearest = "", () if guessed else nearest
        problem = Problem(
            kind=kind,
            severity=severity,
            where=where,
            message=message,
            value=value,
            expected=expected,
            nearest=nearest,
            guessed=guessed and bool(nearest),
            related=related,
        )
        draft = Draft(problem)
        self.drafts.append(draft)
        return draft

    def take(self) -> list[Draft]:
        """The drafts so far, for a place of their own among those to come; none is left here."""
        taken, self.drafts = self.drafts, []
        return taken

    def notice(self, kind: str, where: Where, message: str, **more: str) -> Draft:
        """Note something worth knowing that nobody has to fix."""
        return self.report(kind, where, message, severity=Severity.NOTICE, **more)  # type: ignore[arg-type]

    def problems(self) -> tuple[Problem, ...]:
        """All problems, in the order in which they were found."""
        return tuple(draft.finished() for draft in self.drafts)
