"""Problems while they are being gathered: which cases one stops is often known only at the end."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any, Unpack

from picklist.problems import Facts, Problem, Severity, Where
from picklist.tables.cells import Fault
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
        self, kind: str, where: Where, message: str, severity: Severity = Severity.TO_FIX, **facts: Unpack[Facts]
    ) -> Draft:
        """Note a problem; the draft is given back so that cases can be added.

        ``value`` is what the cell holds: it goes on only where it may be shown, and with it what was made of it.
        """
        value, nearest = facts.get("value", ""), facts.get("nearest", ())
        if value and not may_be_quoted(value, nearest, self.today):
            facts["value"], nearest = "", () if facts.get("guessed") else nearest
        facts["nearest"], facts["guessed"] = nearest, bool(nearest) and facts.get("guessed", False)
        draft = Draft(Problem(kind=kind, severity=severity, where=where, message=message, **facts))
        self.drafts.append(draft)
        return draft

    def of_fault(self, fault: Fault, where: Where, **facts: Unpack[Facts]) -> Draft:
        """Note what is wrong with a cell or a file."""
        facts["expected"], facts["nearest"] = fault.expected, fault.nearest
        return self.report(fault.kind, where, fault.message, **facts)

    def take(self) -> list[Draft]:
        """The drafts so far, for a place of their own among those to come; none is left here."""
        taken, self.drafts = self.drafts, []
        return taken

    def notice(self, kind: str, where: Where, message: str, **facts: Unpack[Facts]) -> Draft:
        """Note something worth knowing that nobody has to fix."""
        return self.report(kind, where, message, Severity.NOTICE, **facts)

    def problems(self) -> tuple[Problem, ...]:
        """All problems, in the order in which they were found."""
        return tuple(draft.finished() for draft in self.drafts)
