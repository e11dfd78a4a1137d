"""Cases that may be former ones under another number: what to ask, and how to answer."""

from __future__ import annotations

from dataclasses import dataclass

from picklist import wording
from picklist.documents.views.lookup import Lookup
from picklist.evening.changes import PlanChange
from picklist.evening.match import MatchNote, NoteKind
from picklist.model.schedule import Case

NOTE_WORDS = {
    NoteKind.RENUMBERED: "{old} is now {new}; its cart is kept.",
    NoteKind.NUMBER_REUSED: "Case number {new} now belongs to a different case.",
    NoteKind.ROOM_RENAMED: "Room {old} is now called {new}.",
    NoteKind.SPLIT: "{old} was split into {new}.",
    NoteKind.JOINED: "{old} were joined into {new}.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class CandidateLine:
    """A former case that a new one may be: how it stood, what agrees, what differs, how to say yes."""

    case: str
    was: str
    agrees: str
    differs: str
    answer: str


@dataclass(frozen=True, slots=True, kw_only=True)
class QuestionBlock:
    """A case of the new schedule and the former ones that it may be."""

    case: str
    now: str
    candidates: tuple[CandidateLine, ...]
    answer_new: str


def question_blocks(found: Lookup, change: PlanChange) -> tuple[QuestionBlock, ...]:
    """The open questions, each with its candidates, the likeliest first."""
    olds = {case.number: case for case in change.old_cases}
    return tuple(
        QuestionBlock(
            case=question.new_case,
            now=_slot(found, found.cases.get(question.new_case)),
            candidates=tuple(
                CandidateLine(
                    case=one.old_case,
                    was=_slot(found, olds.get(one.old_case)),
                    agrees=wording.listed(one.agrees) or wording.NONE,
                    differs=wording.listed(one.differs) or wording.NONE,
                    answer=_answer(question.new_case, one.old_case),
                )
                for one in question.candidates
            ),
            answer_new=_answer(question.new_case, ""),
        )
        for question in change.questions
    )


def _slot(found: Lookup, case: Case | None) -> str:
    if case is None:
        return ""
    parts = (case.room, found.when(case.start), found.person(case.surgeon), found.procedures(case.procedures))
    return " · ".join(part for part in parts if part)


def _answer(new: str, old: str) -> str:
    return f'--same "{new}={old}"'


def note_line(note: MatchNote) -> str:
    """What a reader should know of how the schedules match, in a sentence."""
    return NOTE_WORDS[note.kind].format(old=wording.listed(note.old), new=wording.listed(note.new))
