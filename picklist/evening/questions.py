"""How the cases of two schedules pair, what is to be said of it, and what must be asked before a cart is touched."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from picklist.model.known import MatchQuestion
from picklist.model.schedule import Case
from picklist.problems import Problem


class NoteKind(StrEnum):
    """What was noticed while cases were matched."""

    RENUMBERED = "renumbered"
    NUMBER_REUSED = "number reused"
    ROOM_RENAMED = "room renamed"
    SPLIT = "split"
    JOINED = "joined"


@dataclass(frozen=True, slots=True, kw_only=True)
class MatchNote:
    """Something that a reader should know: the old and new case numbers (or rooms) that take part."""

    kind: NoteKind
    old: tuple[str, ...]
    new: tuple[str, ...]


def match_notes(
    old: list[Case], new: list[Case], same: Mapping[str, str], asked_new: set[str]
) -> tuple[MatchNote, ...]:
    """Notes on two schedules whose cases pair as ``same`` says; ``asked_new`` are still in question."""
    olds, news = {c.number: c for c in old}, {c.number: c for c in new}
    pairs = [(olds[o], news[n]) for o, n in same.items()]
    lone_old = [c for c in old if c.number not in same]
    lone_new = [c for c in new if c.number not in asked_new | set(same.values())]
    notes = [
        MatchNote(kind=NoteKind.RENUMBERED, old=(o.number,), new=(n.number,)) for o, n in pairs if o.number != n.number
    ]
    notes += [
        MatchNote(kind=NoteKind.NUMBER_REUSED, old=(number,), new=(number,))
        for number in sorted(olds.keys() & news.keys())
        if same.get(number) != number and number not in asked_new
    ]
    notes += _renamed_rooms(pairs)
    notes += [MatchNote(kind=NoteKind.SPLIT, old=(o.number,), new=(n.number, part.number))
              for o, n in pairs for part in lone_new if _left_out(o, n, part)]  # fmt: skip
    notes += [MatchNote(kind=NoteKind.JOINED, old=(o.number, part.number), new=(n.number,))
              for o, n in pairs for part in lone_old if _left_out(n, o, part)]  # fmt: skip
    return tuple(sorted(notes, key=lambda note: (note.kind, note.old, note.new)))


def _left_out(whole: Case, rest: Case, part: Case) -> bool:
    """Whether ``part`` is what ``whole`` has and ``rest`` has not, by the same surgeon."""
    lost = set(whole.procedures) - set(rest.procedures)
    return whole.surgeon == part.surgeon and bool(lost) and set(part.procedures) <= lost


def _renamed_rooms(pairs: Sequence[tuple[Case, Case]]) -> list[MatchNote]:
    """Rooms whose cases (two at least) all stand, at their old start, in one room of a name not used before."""
    before, after = {o.room for o, _ in pairs}, {n.room for _, n in pairs}
    moves: dict[str, list[tuple[Case, Case]]] = {}
    for old, new in pairs:
        moves.setdefault(old.room, []).append((old, new))
    notes = []
    for room, cases in sorted(moves.items()):
        names = {n.room for _, n in cases}
        unmoved = all(o.start == n.start for o, n in cases)
        if len(cases) >= 2 and len(names) == 1 and unmoved and not names & before and room not in after:
            notes.append(MatchNote(kind=NoteKind.ROOM_RENAMED, old=(room,), new=(names.pop(),)))
    return notes


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
