"""Questions that stay open over the next schedule until somebody answers them.

While a question stands, the cart that may be the new case's is neither put back nor given
to it. Its key in a question is the one under which its list is kept.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

from picklist.evening.questions import CaseMatch, MatchQuestion, unfit_answer
from picklist.problems import Problem


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
                problems.append(
                    unfit_answer(number, told, "does not fit the question that stands", tuple(sorted(keys)))
                )
    asked = [c.old_case for q in open_questions for c in q.candidates if c.old_case not in same]
    named = [c.old_case for q in standing for c in q.candidates]
    gone = [key for key in named if key not in same and key not in asked]
    return replace(
        match,
        same=tuple(same.items()),
        superseded=tuple(superseded),
        asked_old=tuple(dict.fromkeys((*match.asked_old, *asked))),
        cancelled=tuple(dict.fromkeys((*match.cancelled, *gone))),
        questions=(*match.questions, *(q for q in open_questions if _still_open(q, asked))),
        problems=(*match.problems, *problems),
    )


def _key_meant(told: str | None, keys: Collection[str]) -> str | None:
    """The key that an answer means: papers name a cart by its number, also where it is kept under a longer name."""
    if not told or told in keys:
        return told
    named = [key for key in keys if key.startswith(f"{told} (list ")]
    return named[0] if len(named) == 1 else told


def _still_open(question: MatchQuestion, asked: Sequence[str]) -> bool:
    return any(c.old_case in asked for c in question.candidates)
