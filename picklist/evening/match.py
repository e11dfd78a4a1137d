"""Which case of the new schedule is which case of the old one.

Numbers are reused, rooms renamed and cases split or joined while the evening goes on, so a
number alone proves nothing. Pairs are scored; what is not clear becomes a question, which stays
open over the next schedule until somebody answers it. While it stands, the cart that may be the new
case's is neither put back nor given to it. Its key in a question is the one under which its list is kept.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from picklist.clock import minutes_between
from picklist.grouping import grouped
from picklist.model.known import Candidate, MatchQuestion
from picklist.model.schedule import Case
from picklist.problems import Problem
from picklist.tables.nearest import Candidates
from picklist.wording import say_carts as words


def match_cases(
    old: Sequence[Case],
    new: Sequence[Case],
    answers: Mapping[str, str] | None = None,
    standing: Sequence[MatchQuestion] = (),
) -> CaseMatch:
    """Match the cases of two schedules of one day.

    ``answers`` settle questions: new case number -> old case number, or an empty text for
    "none of them". ``standing`` are questions that an earlier comparison left open.
    Cancelled cases count as absent. Ties break by start, then number.
    """
    told = answers or {}
    waiting = {q.new_case for q in standing}
    match = _match_live(_live(old), _live(new), {n: o for n, o in told.items() if n not in waiting})
    return carry_questions(match, standing, {n: o for n, o in told.items() if n in waiting})


def _match_live(befores: list[Case], nows: list[Case], answers: Mapping[str, str]) -> CaseMatch:
    settled, fresh, problems = _take_answers(befores, nows, answers)
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
        notes=match_notes(befores, nows, same, asked_new),
        problems=problems,
    )


def _live(cases: Sequence[Case]) -> list[Case]:
    return sorted((c for c in cases if not c.is_cancelled), key=lambda c: (c.start, c.number))


def _take_answers(
    old: list[Case], new: list[Case], answers: Mapping[str, str]
) -> tuple[list[tuple[str, str]], set[str], tuple[Problem, ...]]:
    """The pairs and the surely new cases that answers settle, and answers that fit nothing."""
    olds, news = {c.number for c in old}, {c.number for c in new}
    sure = _sure_pairs(old, new) if answers else {}
    settled: list[tuple[str, str]] = []
    fresh: set[str] = set()
    problems: list[Problem] = []
    for now, before in sorted(answers.items()):
        if now not in news:
            near = Candidates(news).nearest(now)
            problems.append(words.unfit_answer(now, before, words.not_scheduled(now), near))
        elif before and before not in olds:
            near = () if now in sure.values() else Candidates(olds).nearest(before)
            why = words.no_list(before, now if now in sure.values() else "")
            problems.append(words.unfit_answer(now, before, why, near))
        elif before in {o for o, _ in settled}:
            problems.append(words.unfit_answer(now, before, words.ONE_TO_TWO))
        elif sure.get(before) == before and now in sure.values() and now != before:
            problems.append(words.unfit_answer(now, before, words.both_there(before, now)))
        elif before:
            settled.append((before, now))
        else:
            fresh.add(now)
    return settled, fresh, tuple(problems)


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


def renumbered(old: Sequence[Case], new: Sequence[Case]) -> dict[str, str]:
    """The new numbers of cases that surely are the same and whose old ones are gone, as long as nobody is asked."""
    before, now = {case.number for case in old}, {case.number for case in new}
    gone, fresh = [c for c in old if c.number not in now], [c for c in new if c.number not in before]
    return _sure_pairs(gone, fresh)


def _beats_rivals(pair: tuple[str, str], scores: Mapping[tuple[str, str], int]) -> bool:
    rivals = (s for p, s in scores.items() if p != pair and (p[0] == pair[0] or p[1] == pair[1]))
    return scores[pair] - max(rivals, default=0) >= MARGIN


def _question(new: Case, old: Sequence[Case]) -> MatchQuestion:
    scored = [(score(o, new), o) for o in old]
    near = sorted(((s, o) for s, o in scored if s >= DOUBTFUL), key=lambda p: (-p[0], p[1].start, p[1].number))
    return MatchQuestion(new_case=new.number, candidates=tuple(_candidate(s, o, new) for s, o in near))


def _candidate(points: int, old: Case, new: Case) -> Candidate:
    """An old case with its points, and what agrees and differs."""
    words = ("number", "surgeon", "procedures", "start", "room", "minutes", "side")
    agrees = tuple(word for word in words if getattr(old, word) == getattr(new, word))
    differs = tuple(word for word in words if word not in agrees)
    return Candidate(old_case=old.number, score=points, agrees=agrees, differs=differs)


def carry_questions(match: CaseMatch, standing: Sequence[MatchQuestion], answers: Mapping[str, str]) -> CaseMatch:
    """A match to which the standing questions are added, or in which their answers are carried out.

    A question about a case that has since left the schedule lapses: the carts in it are cancelled.
    """
    same = dict(match.same)
    open_questions: list[MatchQuestion] = []
    problems: list[Problem] = []
    superseded: list[str] = []
    for question in standing:
        number = question.new_case
        now = same.get(number)
        keys = {c.old_case for c in question.candidates}
        told = _key_meant(answers.get(number), keys)
        if now is None:
            if number in match.asked_old:
                open_questions.append(question)
            continue
        if told and told in keys and told not in same:
            del same[number]
            same[told] = now
            superseded.append(number)
        elif told != "":
            open_questions.append(replace(question, new_case=now))
            if told is not None:
                problems.append(words.unfit_answer(number, told, words.OTHER_QUESTION, tuple(sorted(keys))))
    asked = [c.old_case for q in open_questions for c in q.candidates if c.old_case not in same]
    named = [c.old_case for q in standing for c in q.candidates]
    gone = [key for key in named if key not in same and key not in asked]
    return replace(
        match,
        same=tuple(same.items()),
        superseded=tuple(superseded),
        asked_old=tuple(dict.fromkeys((*match.asked_old, *asked))),
        cancelled=tuple(dict.fromkeys((*match.cancelled, *gone))),
        questions=(*match.questions, *(q for q in open_questions if any(c.old_case in asked for c in q.candidates))),
        problems=(*match.problems, *problems),
    )


def _key_meant(told: str | None, keys: Collection[str]) -> str | None:
    """The key that an answer means: papers name a cart by its number, also where it is kept under a longer name."""
    if not told or told in keys:
        return told
    named = [key for key in keys if key.startswith(f"{told} (list ")]
    return named[0] if len(named) == 1 else told


NUMBER, SURGEON, PROCEDURES, SAME_START, NEAR_START, SAME_ROOM, SAME_MINUTES = 8, 6, 6, 4, 2, 2, 1
OTHER_SIDE = -4
NEAR_MINUTES = 60

# Same number, surgeon and procedures make 20; all but the number, in the same slot, 18.
SURE = 18
DOUBTFUL = 12
MARGIN = 4


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
    clash = old.side is not None and new.side is not None and old.side is not new.side
    return total + (OTHER_SIDE if clash else 0)


def _overlap(old: tuple[str, ...], new: tuple[str, ...]) -> float:
    return len(set(old) & set(new)) / max(1, len(set(old) | set(new)))


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
    moves = grouped((old.room, (old, new)) for old, new in pairs)
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
