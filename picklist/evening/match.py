"""Which case of the new schedule is which case of the old one.

Numbers are reused, rooms renamed and cases split or joined while the evening goes on, so a
number alone proves nothing. Pairs are scored; what is not clear becomes a question.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from picklist.clock import minutes_between
from picklist.model.schedule import Case, CaseStatus, Side
from picklist.problems import Problem, Severity, Where

NUMBER, SURGEON, PROCEDURES, SAME_START, NEAR_START, SAME_ROOM, SAME_MINUTES = 8, 6, 6, 4, 2, 2, 1
OTHER_SIDE = -4
NEAR_MINUTES = 60

# Same number, surgeon and procedures make 20; all but the number, in the same slot, 18.
SURE = 18
DOUBTFUL = 12
MARGIN = 4


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """An old case that a new one may be, with what agrees and what differs in words of the schedule."""

    old_case: str
    score: int
    agrees: tuple[str, ...]
    differs: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MatchQuestion:
    """Is ``new_case`` one of these old cases, or none of them? Best candidate first."""

    new_case: str
    candidates: tuple[Candidate, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseMatch:
    """Old and new numbers of the same case, what was noticed, and what must be asked.

    ``same`` pairs (old, new). ``asked_old`` are old cases that stand in an open question;
    ``cancelled`` and ``added`` are those that surely have no partner.
    """

    same: tuple[tuple[str, str], ...] = ()
    cancelled: tuple[str, ...] = ()
    added: tuple[str, ...] = ()
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


def match_cases(old: Sequence[Case], new: Sequence[Case], answers: Mapping[str, str] | None = None) -> CaseMatch:
    """Match the cases of two schedules of one day.

    ``answers`` settle questions: new case number -> old case number, or an empty text for
    "none of them". Cancelled cases count as absent. Ties break by start, then number.
    """
    befores, nows = _live(old), _live(new)
    settled, fresh, problems = _take_answers(befores, nows, answers or {})
    left_old = [c for c in befores if c.number not in {o for o, _ in settled}]
    left_new = [c for c in nows if c.number not in fresh | {n for _, n in settled}]
    sure = _sure_pairs(left_old, left_new)
    same = {**dict(settled), **sure}
    left_old = [c for c in befores if c.number not in same]
    asking = [c for c in left_new if c.number not in set(same.values())]
    questions = tuple(q for case in asking if (q := _question(case, left_old)).candidates)
    asked_old = {c.old_case for q in questions for c in q.candidates}
    asked_new = {q.new_case for q in questions}
    return CaseMatch(
        same=tuple((c.number, same[c.number]) for c in befores if c.number in same),
        cancelled=tuple(c.number for c in left_old if c.number not in asked_old),
        added=tuple(c.number for c in nows if c.number not in asked_new | set(same.values())),
        asked_old=tuple(c.number for c in left_old if c.number in asked_old),
        questions=questions,
        notes=_notes(befores, nows, same, asked_new),
        problems=problems,
    )


def _live(cases: Sequence[Case]) -> list[Case]:
    return sorted((c for c in cases if c.status is not CaseStatus.CANCELLED), key=lambda c: (c.start, c.number))


def _take_answers(
    old: list[Case], new: list[Case], answers: Mapping[str, str]
) -> tuple[list[tuple[str, str]], set[str], tuple[Problem, ...]]:
    """The pairs and the surely new cases that answers settle, and answers that fit nothing."""
    olds, news = {c.number for c in old}, {c.number for c in new}
    settled: list[tuple[str, str]] = []
    fresh: set[str] = set()
    problems: list[Problem] = []
    for now, before in sorted(answers.items()):
        if now not in news or (before and before not in olds):
            problems.append(_unfit_answer(now, before, "names a case that is not on the schedule"))
        elif before in {o for o, _ in settled}:
            problems.append(_unfit_answer(now, before, "gives one old case to two new ones"))
        elif before:
            settled.append((before, now))
        else:
            fresh.add(now)
    return settled, fresh, tuple(problems)


def _unfit_answer(now: str, before: str, why: str) -> Problem:
    return Problem(
        kind="unfit answer",
        severity=Severity.TO_MEND,
        where=Where(file="answers"),
        message=f"the answer that {now} is {before or 'a new case'} {why}",
        value=f"{now}={before}",
        expected="a case of the new schedule, and a case of the old one that no other answer names",
        cases=(now,),
    )


def score(old: Case, new: Case) -> int:
    """How well two cases agree; 0 when they share neither number nor surgeon."""
    if old.number != new.number and old.surgeon != new.surgeon:
        return 0
    total = NUMBER * (old.number == new.number) + SURGEON * (old.surgeon == new.surgeon)
    total += SAME_ROOM * (old.room == new.room) + SAME_MINUTES * (old.minutes == new.minutes)
    total += round(PROCEDURES * _overlap(old.procedures, new.procedures))
    if old.start == new.start:
        total += SAME_START
    elif abs(minutes_between(old.start, new.start)) <= NEAR_MINUTES:
        total += NEAR_START
    return total + (OTHER_SIDE if _sides_clash(old.side, new.side) else 0)


def _overlap(old: tuple[str, ...], new: tuple[str, ...]) -> float:
    return len(set(old) & set(new)) / max(1, len(set(old) | set(new)))


def _sides_clash(old: Side | None, new: Side | None) -> bool:
    return old is not None and new is not None and old is not new


def _sure_pairs(old: list[Case], new: list[Case]) -> dict[str, str]:
    """Pairs that score well and beat every rival clearly, found again once their rivals are taken."""
    scores = {(o.number, n.number): s for o in old for n in new if (s := score(o, n)) >= DOUBTFUL}
    found: dict[str, str] = {}
    while True:
        sure = [pair for pair, points in scores.items() if points >= SURE and _beats_rivals(pair, scores)]
        if not sure:
            return found
        found.update(sure)
        gone_old, gone_new = {o for o, _ in sure}, {n for _, n in sure}
        scores = {p: s for p, s in scores.items() if p[0] not in gone_old and p[1] not in gone_new}


def _beats_rivals(pair: tuple[str, str], scores: Mapping[tuple[str, str], int]) -> bool:
    rivals = (s for p, s in scores.items() if p != pair and (p[0] == pair[0] or p[1] == pair[1]))
    return scores[pair] - max(rivals, default=0) >= MARGIN


def _question(new: Case, old: Sequence[Case]) -> MatchQuestion:
    scored = [(score(o, new), o) for o in old]
    near = sorted(((s, o) for s, o in scored if s >= DOUBTFUL), key=lambda p: (-p[0], p[1].start, p[1].number))
    return MatchQuestion(new_case=new.number, candidates=tuple(_candidate(s, o, new) for s, o in near))


def _candidate(points: int, old: Case, new: Case) -> Candidate:
    facts = {
        "number": old.number == new.number,
        "surgeon": old.surgeon == new.surgeon,
        "procedures": old.procedures == new.procedures,
        "start": old.start == new.start,
        "room": old.room == new.room,
        "minutes": old.minutes == new.minutes,
        "side": old.side is new.side,
    }
    return Candidate(
        old_case=old.number,
        score=points,
        agrees=tuple(word for word, same in facts.items() if same),
        differs=tuple(word for word, same in facts.items() if not same),
    )


def _notes(old: list[Case], new: list[Case], same: Mapping[str, str], asked_new: set[str]) -> tuple[MatchNote, ...]:
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
