"""How the cases of two schedules pair, and what must be asked before a cart is touched."""

from __future__ import annotations

from dataclasses import dataclass

from picklist.evening.case_similarity import Candidate
from picklist.evening.match_notes import MatchNote
from picklist.problems import Problem, Severity, Where


@dataclass(frozen=True, slots=True, kw_only=True)
class MatchQuestion:
    """Is ``new_case`` one of these old cases, or none of them? Best candidate first."""

    new_case: str
    candidates: tuple[Candidate, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseMatch:
    """Old and new numbers of the same case, what was noticed, and what must be asked.

    ``same`` pairs (old, new). ``asked_old`` are old cases that stand in an open question;
    ``cancelled`` and ``added`` are those that surely have no partner. ``superseded`` are old cases
    whose number now stands for another cart that an answer found (see ``standing``); ``over`` those
    that are done, which are matched no more. ``unread`` are those that the schedule may still have, in a row
    or file that cannot be read.
    """

    same: tuple[tuple[str, str], ...] = ()
    cancelled: tuple[str, ...] = ()
    added: tuple[str, ...] = ()
    superseded: tuple[str, ...] = ()
    over: tuple[str, ...] = ()
    unread: tuple[str, ...] = ()
    asked_old: tuple[str, ...] = ()
    questions: tuple[MatchQuestion, ...] = ()
    notes: tuple[MatchNote, ...] = ()
    problems: tuple[Problem, ...] = ()

    def new_number(self, old_case: str) -> str | None:
        """The new number of an old case; None when it has none (yet)."""
        return dict(self.same).get(old_case)

    def old_number(self, new_case: str) -> str | None:
        """The old number of a new case; None when it has none (yet)."""
        return {new: old for old, new in self.same}.get(new_case)


def unfit_answer(now: str, before: str, why: str, nearest: tuple[str, ...] = ()) -> Problem:
    """An answer that fits no question; it settles nothing, and no list is stopped for it."""
    return Problem(
        kind="unfit answer",
        severity=Severity.TO_MEND,
        where=Where(file="answers"),
        message=f"the answer that {now} is {before or 'a new case'} {why}; it was left aside",
        value=f"{now}={before}",
        expected="a case of the new schedule, and a case of the lists in hand that no other answer names",
        nearest=nearest,
        cases=(now,),
    )
