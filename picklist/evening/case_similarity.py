"""How much two cases of different schedules are alike, in points."""

from __future__ import annotations

from picklist.clock import minutes_between
from picklist.model.known import Candidate
from picklist.model.schedule import Case, Side

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
    return total + (OTHER_SIDE if _sides_clash(old.side, new.side) else 0)


def _overlap(old: tuple[str, ...], new: tuple[str, ...]) -> float:
    return len(set(old) & set(new)) / max(1, len(set(old) | set(new)))


def _sides_clash(old: Side | None, new: Side | None) -> bool:
    return old is not None and new is not None and old is not new


def candidate(points: int, old: Case, new: Case) -> Candidate:
    """An old case with its points, and what agrees and differs."""
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
