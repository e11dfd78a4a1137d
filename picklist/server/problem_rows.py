"""Problems as rows of a page, in the words of the report."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
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
    number: int = -1  # by which it can be fixed on the page; -1 where it cannot
    where: str = ""
    fixes: tuple[str, ...] = ()  # the nearest values, each a button


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetProblems:
    """The problems of one file and sheet."""

    heading: str
    rows: tuple[ProblemRow, ...]
    more: tuple[str, ...]


def problem_sheets(problems: Iterable[Problem], *, numbered: Sequence[Problem] = ()) -> tuple[SheetProblems, ...]:
    """Problems by file and sheet, row by row; those of one cell can be fixed by their number in ``numbered``."""
    listed = tuple(problems)
    numbers = {id(one): number for number, one in enumerate(numbered) if _is_of_a_cell(one)}
    return tuple(
        SheetProblems(
            heading=sheet.heading,
            rows=tuple(_row(p.for_paper(), numbers.get(id(p), -1)) for p in sheet.spelled),
            more=sheet.more,
        )
        for sheet in by_sheet(listed)
    )


def _is_of_a_cell(problem: Problem) -> bool:
    """Whether one cell of a file is wrong, so that another value in it may do."""
    where = problem.where
    return problem.severity is not Severity.NOTICE and bool(where.file and where.row and where.column)


def _row(problem: Problem, number: int) -> ProblemRow:
    return ProblemRow(
        place=place_in_sheet(problem),
        mark=mark(problem),
        grave=problem.severity in (Severity.STOPS_ALL, Severity.STOPS_CASE),
        notice=problem.severity is Severity.NOTICE,
        message=problem.message,
        expected=problem.expected,
        nearest="" if number >= 0 else " or ".join(problem.nearest),
        related=tuple(str(where) for where in problem.related),
        number=number,
        where=str(problem.where),
        fixes=problem.nearest if number >= 0 else (),
    )
