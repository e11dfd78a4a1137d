"""Problems as a report in reading order: by file and sheet, then row by row."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby

from picklist.problems import Problem, Severity

MARKS = {
    Severity.STOPS_ALL: "STOPS EVERYTHING",
    Severity.STOPS_CASE: "STOPS CASE",
    Severity.TO_FIX: "to fix",
    Severity.NOTICE: "notice",
}


STOPPING = frozenset({Severity.STOPS_ALL, Severity.STOPS_CASE})
MOST_OF_A_KIND = 12
MOST_CASES = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetReport:
    """The problems of one sheet that are spelled out, and words for those that are only counted."""

    heading: str
    spelled: tuple[Problem, ...]
    more: tuple[str, ...]


def write_report(problems: Iterable[Problem], *, most_of_a_kind: int = MOST_OF_A_KIND) -> str:
    """The whole report; what stops work is marked so, notices come with the rest and count apart.

    Of very many of one kind in one column the first are spelled out and the others counted; what
    stops work is always spelled out.
    """
    listed = tuple(problems)
    lines: list[str] = []
    for sheet in by_sheet(listed, most_of_a_kind=most_of_a_kind):
        lines.append(sheet.heading)
        lines += (f"  {_line(problem)}" for problem in sheet.spelled)
        lines += (f"  {text}" for text in sheet.more)
    return "\n".join([*lines, count_line(listed)])


def by_sheet(problems: Iterable[Problem], *, most_of_a_kind: int = MOST_OF_A_KIND) -> tuple[SheetReport, ...]:
    """The problems of each file and sheet, row by row."""
    listed = sorted(problems, key=_reading_order)
    groups = groupby(listed, key=lambda p: (p.where.file, p.where.sheet))
    return tuple(_sheet(file, sheet, list(group), most_of_a_kind) for (file, sheet), group in groups)


def _sheet(file: str, sheet: str, problems: list[Problem], most: int) -> SheetReport:
    spelled: list[Problem] = []
    seen: dict[tuple[str, str], int] = {}
    for problem in problems:
        if problem.severity in STOPPING:
            spelled.append(problem)
            continue
        key = (problem.kind, problem.where.column)
        seen[key] = seen.get(key, 0) + 1
        if seen[key] <= most:
            spelled.append(problem)
    more = tuple(
        f"and {count - most} more of the kind '{kind}'{f' in column {column}' if column else ''}"
        for (kind, column), count in seen.items()
        if count > most
    )
    heading = ", ".join(part for part in (file, f"sheet {sheet}" if sheet else "") if part) or "The folder"
    return SheetReport(heading=heading, spelled=tuple(spelled), more=more)


def _line(problem: Problem) -> str:
    place = place_in_sheet(problem)
    return f"{place}{': ' if place else ''}[{mark(problem)}] {problem.sentence_on_screen()}"


def place_in_sheet(problem: Problem) -> str:
    """Cell or row, and the column's head, as ``C7 (minutes)``; empty when it is the whole sheet."""
    where = problem.where
    place = where.cell or (f"row {where.row}" if where.row is not None else "")
    column = f"({where.column})" if where.column else ""
    return f"{place} {column}".strip()


def mark(problem: Problem) -> str:
    """How far it reaches, with the cases that it stops."""
    if problem.severity is not Severity.STOPS_CASE or not problem.cases:
        return MARKS[problem.severity]
    more = len(problem.cases) - MOST_CASES
    cases = f"{', '.join(problem.cases[:MOST_CASES])}{f' and {more} more' if more > 0 else ''}"
    return f"{MARKS[problem.severity]} {cases}"


def count_line(problems: Iterable[Problem]) -> str:
    """How many must be fixed, and how many notices there are beside them."""
    listed = tuple(problems)
    notices = sum(p.severity is Severity.NOTICE for p in listed)
    to_fix = len(listed) - notices
    fixes = "Nothing to fix" if to_fix == 0 else f"{to_fix} to fix"
    return f"{fixes}; {notices} notice{'' if notices == 1 else 's'}."


def _reading_order(problem: Problem) -> tuple[str, str, int, int, str, str]:
    """Row by row, and within a row from left to right: column Z stands before AA."""
    where = problem.where
    letters = re.sub("[0-9]", "", where.cell)
    return where.file, where.sheet, where.row or 0, len(letters), letters, problem.kind
