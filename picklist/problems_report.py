"""Problems as a text to read beside the spreadsheet: by file and sheet, from top to bottom."""

from __future__ import annotations

import re
from collections.abc import Iterable
from itertools import groupby

from picklist.problems import Problem, Severity

MOST_OF_A_KIND = 12
ORDER = (Severity.STOPS_ALL, Severity.STOPS_CASE, Severity.TO_MEND, Severity.NOTICE)


def in_reading_order(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    """Problems by file, sheet, row and column, as one goes through the sheets."""
    return tuple(sorted(problems, key=_place))


def write_problems(problems: Iterable[Problem], *, most_of_a_kind: int = MOST_OF_A_KIND) -> str:
    """A text that lists all problems; of many of one kind in one column the first are spelled out.

    Problems that stop a case are always all spelled out. An empty text when there is none.
    """
    ordered = in_reading_order(problems)
    if not ordered:
        return ""
    blocks = [_counts(ordered)]
    for (file, sheet), group in groupby(ordered, key=lambda one: (one.where.file, one.where.sheet)):
        title = " / ".join(part for part in (file or "(not found)", sheet) if part)
        blocks.append("\n".join([title, *_lines(tuple(group), most_of_a_kind)]))
    return "\n\n".join(blocks) + "\n"


def count_by_severity(problems: Iterable[Problem]) -> dict[Severity, int]:
    """How many problems there are of each severity, the gravest first."""
    counts = dict.fromkeys(ORDER, 0)
    for problem in problems:
        counts[problem.severity] += 1
    return counts


def _counts(problems: tuple[Problem, ...]) -> str:
    counts = count_by_severity(problems)
    words = {
        Severity.STOPS_ALL: "that stop everything",
        Severity.STOPS_CASE: "that stop cases",
        Severity.TO_MEND: "to mend",
        Severity.NOTICE: "notices",
    }
    told = ", ".join(f"{count} {words[severity]}" for severity, count in counts.items() if count)
    stopped = sorted({case for problem in problems for case in problem.cases}, key=_as_read)
    return told + (f"\nstopped cases ({len(stopped)}): {', '.join(stopped)}" if stopped else "")


def _lines(problems: tuple[Problem, ...], most: int) -> list[str]:
    lines: list[str] = []
    seen: dict[tuple[str, str, Severity], int] = {}
    for problem in problems:
        key = (problem.kind, problem.where.column, problem.severity)
        seen[key] = seen.get(key, 0) + 1
        if seen[key] <= most or problem.severity in (Severity.STOPS_ALL, Severity.STOPS_CASE):
            lines.append(_line(problem))
    for (kind, column, severity), count in seen.items():
        if count > most and severity not in (Severity.STOPS_ALL, Severity.STOPS_CASE):
            of = f" in column {column}" if column else ""
            lines.append(f"  and {count - most} more of the kind {kind}{of}")
    return lines


def _line(problem: Problem) -> str:
    where = problem.where
    place = where.cell or (f"row {where.row}" if where.row is not None else "")
    if where.column:
        place = f"{place} {where.column}".strip()
    label = {
        Severity.STOPS_ALL: "STOPS EVERYTHING",
        Severity.STOPS_CASE: f"STOPS {_cases_text(problem.cases)}",
        Severity.TO_MEND: "mend",
        Severity.NOTICE: "notice",
    }[problem.severity]
    return f"  {place + ': ' if place else ''}[{label}] {problem.sentence()}"


def _cases_text(cases: tuple[str, ...]) -> str:
    if len(cases) > 8:
        return f"{len(cases)} cases, {', '.join(cases[:8])} and others"
    return ", ".join(cases) or "the row"


def _place(problem: Problem) -> tuple[object, ...]:
    where = problem.where
    letters = re.sub(r"\d", "", where.cell)
    return (where.file.casefold(), where.sheet.casefold(), where.row or 0, len(letters), letters, problem.kind)


def _as_read(text: str) -> list[tuple[int, str]]:
    """A key by which numbers inside texts sort as numbers."""
    return [(int(part), "") if part.isdigit() else (-1, part) for part in re.split(r"(\d+)", text) if part]
