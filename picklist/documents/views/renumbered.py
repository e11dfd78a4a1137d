"""Cases that may be former ones under another number: what to ask, and how to answer."""

from __future__ import annotations

from picklist import wording
from picklist.documents.views.finished_words import View
from picklist.documents.views.lookup import Lookup
from picklist.evening.changes import PlanChange
from picklist.evening.match import MatchNote, NoteKind
from picklist.model.known import Candidate, MatchQuestion
from picklist.model.schedule import Case

NOTE_WORDS = {
    NoteKind.RENUMBERED: "{old} is now {new}; its cart is kept.",
    NoteKind.NUMBER_REUSED: "Case number {new} now belongs to a different case.",
    NoteKind.ROOM_RENAMED: "Room {old} is now called {new}.",
    NoteKind.SPLIT: "{old} was split into {new}.",
    NoteKind.JOINED: "{old} were joined into {new}.",
}


class CandidateLine(View):
    """A former case that a new one may be: how it stood, what agrees, what differs, how to say yes."""

    def __init__(self, found: Lookup, new_case: str, one: Candidate, former: Case | None) -> None:
        self.case = one.old_case
        self.was = _slot(found, former)
        self.agrees = wording.listed(one.agrees) or wording.NONE
        self.differs = wording.listed(one.differs) or wording.NONE
        self.answer = _answer(new_case, one.old_case)


class QuestionBlock(View):
    """A case of the new schedule and the former ones that it may be, the likeliest first."""

    def __init__(self, found: Lookup, question: MatchQuestion, change: PlanChange) -> None:
        self.case = new = question.new_case
        self.now = _slot(found, found.cases.get(new))
        self.candidates = tuple(
            CandidateLine(found, new, one, change.old_case(one.old_case)) for one in question.candidates
        )
        self.ask = (
            f"Is {new} still the same case?"
            if any(one.old_case == new for one in question.candidates)
            else f"Was {new} on the former schedule under another number?"
        )
        self.answer_new = _answer(new, "")


def question_blocks(found: Lookup, change: PlanChange) -> tuple[QuestionBlock, ...]:
    """The open questions."""
    return tuple(QuestionBlock(found, question, change) for question in change.questions)


def _slot(found: Lookup, case: Case | None) -> str:
    if case is None:
        return ""
    parts = (case.room, found.when(case.start), found.person(case.surgeon), found.procedures(case.procedures))
    return wording.joined(*parts, by=" · ")


def _answer(new: str, old: str) -> str:
    return f'--same "{new}={old}"'


def note_line(note: MatchNote) -> str:
    """What a reader should know of how the schedules match, in a sentence."""
    return NOTE_WORDS[note.kind].format(old=wording.listed(note.old), new=wording.listed(note.new))
