"""Decide whether a card line counts for a case: yes, no, or not until the case says more."""

from __future__ import annotations

from dataclasses import dataclass

from picklist.letters import bare
from picklist.model.cards import CardLine, Condition, ConditionKind
from picklist.model.schedule import Case, Side
from picklist.wording.card_words import what_case_says


@dataclass(frozen=True, slots=True, kw_only=True)
class ConditionResult:
    """``counts`` is None while the case leaves ``unstated`` blank; ``why`` is what the case says against it."""

    counts: bool | None
    why: str = ""
    unstated: tuple[ConditionKind, ...] = ()


COUNTS = ConditionResult(counts=True)


def judge_line(line: CardLine, case: Case) -> ConditionResult:
    """Whether a line's side and conditions hold. One that fails decides, even if others are blank."""
    if line.side is None and not line.only_if:
        return COUNTS
    conditions = line.only_if
    if line.side is not None:
        conditions = (Condition(kind=ConditionKind.SIDE, value=line.side.value), *conditions)
    unstated = []
    for condition in conditions:
        holds = condition_holds(condition, case)
        if holds is False:
            return ConditionResult(counts=False, why=what_case_says(condition.kind, case))
        if holds is None:
            unstated.append(condition.kind)
    return ConditionResult(counts=None, unstated=tuple(dict.fromkeys(unstated))) if unstated else COUNTS


def condition_holds(condition: Condition, case: Case) -> bool | None:
    """Whether one condition holds; None when the case does not state the side or size it looks at."""
    if condition.kind is ConditionKind.ALERT:
        holds: bool | None = case.has_alert(condition.value)
    elif condition.kind is ConditionKind.SIDE:
        holds = side_holds(condition.value, case.side)
    else:
        holds = same_word(case.patient_size, condition.value) if case.patient_size.strip() else None
    return (not holds) if condition.negated and holds is not None else holds


def side_holds(wanted: str, stated: Side | None) -> bool | None:
    """Whether the stated side is the wanted one; an operation on both sides is also on the left."""
    if stated is None:
        return None
    if stated is Side.BOTH and same_word(wanted, Side.LEFT) | same_word(wanted, Side.RIGHT):
        return True
    return same_word(wanted, stated)


def same_word(one: str, other: str) -> bool:
    """Whether two words are the same but for case, accents and surrounding spaces."""
    return bare(one) == bare(other)
