"""What of an answer to a scan may be shown, and the problem that it reports."""

from __future__ import annotations

from dataclasses import replace

from picklist.clock import SiteClock
from picklist.model.scan_answer import ADVICE, ScanAnswer, ScanKind, Weight
from picklist.problems import Problem, Severity
from picklist.tables.private import may_be_quoted
from picklist.wording.say_scans import message, scan_words


def say(answer: ScanAnswer, clock: SiteClock) -> str:
    """An answer in words, for a screen of one line."""
    return scan_words(_shown(answer), clock)


def as_problem(answer: ScanAnswer, clock: SiteClock) -> Problem | None:
    """The problem that an answer reports; None for one that only says what was recorded."""
    if answer.problem is not None:
        return answer.problem
    if answer.weight is Weight.DONE or answer.kind in ADVICE:
        return None
    return Problem(
        kind=answer.kind.value,
        severity=Severity.NOTICE if answer.weight is Weight.LOOK else Severity.TO_FIX,
        where=answer.where,
        message=message(replace(answer, scan=""), clock).rstrip("."),
        value=answer.scan if may_be_quoted(answer.scan, answer.nearest) else "",
        nearest=answer.nearest,
    )


def _shown(answer: ScanAnswer) -> ScanAnswer:
    """The answer without what was scanned, or the case that it was taken for, where that may not be shown."""
    shown = answer.kind is ScanKind.ASKS or may_be_quoted(answer.scan, answer.nearest)  # a word of ours asks
    known = answer.kind is not ScanKind.UNKNOWN_CASE or may_be_quoted(answer.case, answer.nearest)
    return replace(
        answer,
        scan=answer.scan if shown else "",
        case=answer.case if known else "",
        undone=_shown(answer.undone) if answer.undone else None,
    )
