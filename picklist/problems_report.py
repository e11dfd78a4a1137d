"""Problems as a report in reading order: by file and sheet, then row by row."""

from __future__ import annotations

import re
from collections.abc import Iterable
from itertools import groupby

from picklist.problems import Problem, Severity

MARKS = {
    Severity.STOPS_ALL: "STOPS EVERYTHING",
    Severity.STOPS_CASE: "STOPS CASE",
    Severity.TO_MEND: "to mend",
    Severity.NOTICE: "notice",
}


STOPPING = frozenset({Severity.STOPS_ALL, Severity.STOPS_CASE})
MOST_OF_A_KIND = 12
MOST_CASES = 8


def write_report(problems: Iterable[Problem], *, most_of_a_kind: int = MOST_OF_A_KIND) -> str:
    """The whole report; what stops work is marked so, notices come with the rest and count apart.

    Of very many of one kind in one column the first are spelled out and the others counted; what
    stops work is always spelled out.
    """
    listed = sorted(problems, key=_reading_order)
    lines: list[str] = []
    for (file, sheet), group in groupby(listed, key=lambda p: (p.where.file, p.where.sheet)):
        lines.append(", ".join(part for part in (file, f"sheet {sheet}" if sheet else "") if part) or "The folder")
        lines += (f"  {text}" for text in _lines(list(group), most_of_a_kind))
    return "\n".join([*lines, _count(listed)])


def _lines(problems: list[Problem], most: int) -> list[str]:
    lines: list[str] = []
    seen: dict[tuple[str, str], int] = {}
    for problem in problems:
        if problem.severity in STOPPING:
            lines.append(_line(problem))
            continue
        key = (problem.kind, problem.where.column)
        seen[key] = seen.get(key, 0) + 1
        if seen[key] <= most:
            lines.append(_line(problem))
    for (kind, column), count in seen.items():
        if count > most:
            lines.append(f"and {count - most} more of the kind '{kind}'{f' in column {column}' if column else ''}")
    return lines


def _line(problem: Problem) -> str:
    where = problem.where
    place = where.cell or (f"row {where.row}" if where.row is not None else "")
    column = f" ({where.column})" if where.column else ""
    mark = MARKS[problem.severity]
    if problem.severity is Severity.STOPS_CASE and problem.cases:
        more = len(problem.cases) - MOST_CASES
        mark += f" {', '.join(problem.cases[:MOST_CASES])}{f' and {more} more' if more > 0 else ''}"
    return f"{place}{column}{': ' if place or column else ''}[{mark}] {problem.sentence()}"


def _count(problems: list[Problem]) -> str:
    notices = sum(p.severity is Severity.NOTICE for p in problems)
    to_mend = len(problems) - notices
    mend = "Nothing to mend" if to_mend == 0 else f"{to_mend} to mend"
    return f"{mend}; {notices} notice{'' if notices == 1 else 's'}."


def _reading_order(problem: Problem) -> tuple[str, str, int, int, str, str]:
    """Row by row, and within a row from left to right: column Z stands before AA."""
    where = problem.where
    letters = re.sub("[0-9]", "", where.cell)
    return where.file, where.sheet, where.row or 0, len(letters), letters, problem.kind
