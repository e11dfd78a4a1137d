"""Problems as rows of a page, in the words of the report."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from picklist.problems import Problem, Severity
from picklist.problems_report import by_sheet, mark, place_in_sheet


@dataclass(frozen=True, slots=True, kw_only=True)
class ProblemRow:
    """One problem: where in its sheet, how far it reaches, and what would be right."""

    place: str
    mark: str
    grave: bool
    notice: bool
    message: str
    expected: str
    nearest: str
    related: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetProblems:
    """The problems of one file and sheet."""

    heading: str
    rows: tuple[ProblemRow, ...]
    more: tuple[str, ...]


def problem_sheets(problems: Iterable[Problem]) -> tuple[SheetProblems, ...]:
    """Problems by file and sheet, row by row."""
    return tuple(
        SheetProblems(heading=sheet.heading, rows=tuple(_row(p.for_paper()) for p in sheet.spelled), more=sheet.more)
        for sheet in by_sheet(problems)
    )


def _row(problem: Problem) -> ProblemRow:
    return ProblemRow(
        place=place_in_sheet(problem),
        mark=mark(problem),
        grave=problem.severity in (Severity.STOPS_ALL, Severity.STOPS_CASE),
        notice=problem.severity is Severity.NOTICE,
        message=problem.message,
        expected=problem.expected,
        nearest=" or ".join(problem.nearest),
        related=tuple(str(where) for where in problem.related),
    )
