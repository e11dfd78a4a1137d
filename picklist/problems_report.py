"""Problems as a report in reading order: by file and sheet, then row by row."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby

from picklist.problems import Problem, Severity

MARKS = {
    Severity.STOPS_ALL: "STOPS EVERYTHING",
    Severity.STOPS_CASE: "STOPS CASE",
    Severity.TO_MEND: "to mend",
    Severity.NOTICE: "notice",
}


def write_report(problems: Iterable[Problem]) -> str:
    """The whole report; what stops work is marked so, notices come with the rest and count apart."""
    listed = sorted(problems, key=_reading_order)
    lines: list[str] = []
    for (file, sheet), group in groupby(listed, key=lambda p: (p.where.file, p.where.sheet)):
        lines.append(", ".join(part for part in (file, f"sheet {sheet}" if sheet else "") if part) or "The folder")
        lines += (f"  {_line(problem)}" for problem in group)
    return "\n".join([*lines, _count(listed)])


def _line(problem: Problem) -> str:
    where = problem.where
    place = where.cell or (f"row {where.row}" if where.row is not None else "")
    column = f" ({where.column})" if where.column else ""
    mark = MARKS[problem.severity]
    if problem.severity is Severity.STOPS_CASE and problem.cases:
        mark += f" {', '.join(problem.cases)}"
    return f"{place}{column}{': ' if place or column else ''}[{mark}] {problem.sentence()}"


def _count(problems: list[Problem]) -> str:
    notices = sum(p.severity is Severity.NOTICE for p in problems)
    to_mend = len(problems) - notices
    mend = "Nothing to mend" if to_mend == 0 else f"{to_mend} to mend"
    return f"{mend}; {notices} notice{'' if notices == 1 else 's'}."


def _reading_order(problem: Problem) -> tuple[str, str, int, str, str]:
    where = problem.where
    return where.file, where.sheet, where.row or 0, where.cell, problem.kind
