"""Find conflicts as plain figures: enough to compare two plans, without sentences and proof."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from picklist.model.conflicts import ConflictKind
from picklist.model.uses import Use
from picklist.sets.allocation.terms import AllocationAnswer, GivenSet, Grade

SEVERITY = {
    ConflictKind.TIGHT: 1,
    ConflictKind.RESERVE: 2,
    ConflictKind.CONDITIONAL: 3,
    ConflictKind.RUSH: 4,
    ConflictKind.SHORT: 5,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundConflict:
    """A conflict: its kind, the use that waits or goes without, and its minutes (of the reserve: sets under it).

    ``never``: no set ever comes, so that there are no minutes.
    """

    kind: ConflictKind
    use: Use
    minutes: int
    never: bool = False

    @property
    def id(self) -> str:
        """Stable over small changes: who waits for what, and whether it is about the reserve."""
        copy = f"/{self.use.copy}" if self.use.copy > 1 else ""
        reserve = "/reserve" if self.kind is ConflictKind.RESERVE else ""
        return f"{self.use.case}/{self.use.tray}{copy}{reserve}"

    def is_no_worse_than(self, other: FoundConflict) -> bool:
        """Whether it is milder than another conflict, or of the same kind with no more minutes (of slack: no fewer)."""
        if self.kind is not other.kind:
            return SEVERITY[self.kind] < SEVERITY[other.kind]
        if self.kind is ConflictKind.TIGHT:
            return self.minutes >= other.minutes
        return other.never or (self.minutes <= other.minutes and not self.never)


def find_conflicts(
    uses: Mapping[str, Use], answer: AllocationAnswer, margin: int, accepted: Collection[str] = ()
) -> tuple[FoundConflict, ...]:
    """The conflicts of an allocation, in order of need; ``accepted`` uses may go under the number kept ready."""
    found = [
        FoundConflict(kind=ConflictKind.SHORT, use=uses[key], minutes=minutes or 0, never=minutes is None)
        for key, minutes in answer.unserved.items()
    ]
    for given in answer.given:
        kind = _kind(given, margin)
        if kind is not None:
            found.append(FoundConflict(kind=kind, use=uses[given.job], minutes=abs(given.slack or 0)))
        if given.under and given.job not in accepted:
            found.append(FoundConflict(kind=ConflictKind.RESERVE, use=uses[given.job], minutes=given.under))
    return tuple(sorted(found, key=lambda one: (one.use.needed, one.use.key, one.kind)))


def _kind(given: GivenSet, margin: int) -> ConflictKind | None:
    if given.grade is Grade.RUSH:
        return ConflictKind.RUSH
    if given.grade is Grade.UNOPENED:
        return ConflictKind.CONDITIONAL
    return ConflictKind.TIGHT if given.slack is not None and given.slack < margin else None


def is_gone(before: FoundConflict, after: FoundConflict | None) -> bool:
    """Whether a conflict is gone, or only tight where it was worse."""
    return after is None or (after.kind is ConflictKind.TIGHT and before.kind is not ConflictKind.TIGHT)


def none_worse(before: dict[str, FoundConflict], after: Iterable[FoundConflict]) -> bool:
    """Whether every conflict was there before and is no worse now."""
    return all(one.id in before and one.is_no_worse_than(before[one.id]) for one in after)
