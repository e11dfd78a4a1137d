"""An edit tried: the parts that it touches planned again, and what became of every conflict."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime

from picklist.clock import minutes_between
from picklist.model.conflicts import ConflictKind, Edit
from picklist.model.schedule import Case
from picklist.model.uses import Use
from picklist.sets.knock_on import shifted
from picklist.sets.remedies.evening import Edited, Evening, Part, apply_edits
from picklist.sets.remedies.insertion import Insertion
from picklist.sets.remedies.moments import Moments
from picklist.sets.remedies.outcomes import Outcomes
from picklist.sets.remedies.rooms import why_not
from picklist.sets.spotted import SEVERITY, Spotted


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """Edits that remove a conflict. ``tight`` is the slack that is left when it turns into a tight one."""

    edits: tuple[Edit, ...]
    edited: Edited
    tight: int | None


@dataclass(slots=True)
class Purse:
    """How many uses may still be planned anew for one conflict.

    A bound on the work instead of on the time, so that the same evening always gives the same answer.
    """

    left: int
    promises: int = 40

    def spend(self, uses: int, *, promising: bool) -> bool:
        """Take so many, if they are there; what looks promising is counted by itself."""
        if promising and self.promises > 0:
            self.promises -= 1
            return True
        self.left -= uses
        return self.left >= 0


EVENING_WORK = 24_000  # uses planned anew in one evening, a few seconds
_PLANS = 3  # planning a part costs so many times what its first objectives cost


class Trials:
    """Tries edits on an evening and remembers each part's outcome, so that nothing is planned twice."""

    def __init__(self, evening: Evening) -> None:
        self.evening = evening
        self.outcomes = Outcomes(evening.situation)
        self.before = {part: plan.spotted for part, plan in evening.plans.items()}
        self.share = EVENING_WORK // max(1, sum(map(len, self.before.values())))
        self.moments: dict[str, Moments] = {}
        self.insertion = Insertion(evening)
        self._moved: dict[tuple[Part, str, datetime, str], tuple[tuple[Use, ...], int]] = {}

    def helps(self, target: Spotted, edits: tuple[Edit, ...]) -> Verdict | None:
        """The verdict when edits are allowed, remove the target and make no conflict new or worse."""
        edited = apply_edits(self.evening, edits)
        return None if why_not(self.evening, edited) else self.judge(target, edits, edited)

    def moves_help(self, target: Spotted, edits: tuple[Edit, ...], purse: Purse) -> Verdict | None:
        """As ``helps``, for several moves; planned anew only while the purse lasts or when a quick look is good."""
        edited = apply_edits(self.evening, edits)
        if why_not(self.evening, edited):
            return None
        home = self._home(target)
        uses = tuple(use for use in edited.scenario.uses if use.tray in home)
        moved = (uses, self.outcomes.key(edited.scenario, home))
        if not self._gains(target, moved, frozenset(edited.touched), purse):
            return None
        return self.judge(target, edits, edited, purse)

    def move_may_help(self, target: Spotted, case: Case, start: datetime, building: str, purse: Purse) -> bool:
        """Whether the target's own part gains by a move of one case; the same for all rooms of a building."""
        home = self._home(target)
        mine = (home, case.number, start, building)
        if mine not in self._moved:
            minutes = minutes_between(case.start, start)
            uses = tuple(
                shifted(use, minutes, building) if use.case == case.number else use
                for use in self.evening.scenario.uses
                if use.tray in home
            )
            self._moved[mine] = (uses, self.outcomes.key(replace(self.evening.scenario, uses=uses), home))
        return self._gains(target, self._moved[mine], frozenset((case.number,)), purse)

    def moving_may_help(self, target: Spotted, case: str) -> bool:
        """Whether the part would gain if the case were not there at all: if not, no move of it can help."""
        if case == target.use.case or target.kind is ConflictKind.TIGHT:
            return True
        home, before = self._home(target), self.evening.scenario
        mine = [use for use in before.uses if use.case == case and use.tray in home]
        without = replace(before, uses=tuple(use for use in before.uses if use.case != case))
        weight, served, *rest = self.outcomes.service(without, home)
        own = sum({use.tray: use.weight for use in mine}.values())
        return (weight - own, served - len(mine), *rest) < self.outcomes.service(before, home)

    def judge(
        self, target: Spotted, edits: tuple[Edit, ...], edited: Edited, purse: Purse | None = None
    ) -> Verdict | None:
        """As ``helps``, without asking whether the edits are allowed; None also when the purse is empty."""
        home = self._home(target)
        if home not in edited.parts or not self._improves(target, edited):
            return None
        if purse is not None and not self._can_plan(target, edited, purse):
            return None
        tight = None
        # The conflict's own part first: most edits fail there, and the others need not be planned.
        for part in sorted(edited.parts, key=lambda one: (one != home, one)):
            after = {one.id: one for one in self.outcomes.spotted(edited.scenario, part)}
            left = after.pop(target.id, None)
            if left is not None:
                if left.kind is not ConflictKind.TIGHT or target.kind is ConflictKind.TIGHT:
                    return None
                tight = left.minutes
            known = {one.id: one for one in self.before.get(part, ())}
            if not none_worse(known, after.values()) or _still_wanting(edited, after.values()):
                return None
        return Verdict(edits=edits, edited=edited, tight=tight)

    def _can_plan(self, target: Spotted, edited: Edited, purse: Purse) -> bool:
        part, scenario = self._home(target), edited.scenario
        if self.outcomes.key(scenario, part) in self.outcomes.seen:
            return True
        uses = tuple(use for use in scenario.uses if use.tray in part)
        promising = self._fits(target, uses, frozenset(edited.touched))
        return purse.spend(_PLANS * len(uses), promising=promising)

    def _home(self, target: Spotted) -> Part:
        return self.evening.situation.part_of[target.use.tray]

    def _improves(self, target: Spotted, edited: Edited) -> bool:
        if target.kind is ConflictKind.TIGHT:
            return True
        home = self._home(target)
        before = self.outcomes.service(self.evening.scenario, home)
        return _is_gain(target.kind, self.outcomes.service(edited.scenario, home), before)

    def _gains(self, target: Spotted, moved: tuple[tuple[Use, ...], int], cases: frozenset[str], purse: Purse) -> bool:
        """Whether the target's part gains what it must when the target is removed and nothing is worse."""
        home, (uses, key) = self._home(target), moved
        scenario = replace(self.evening.scenario, uses=uses)
        before = self.outcomes.service(self.evening.scenario, home)
        if target.kind is not ConflictKind.TIGHT and key not in self.outcomes.served:
            most = self.outcomes.most(scenario, home, key)
            if most is not None and most < -before[1] + (target.kind is ConflictKind.SHORT):
                return False
        planned = key in self.outcomes.served or key in self.outcomes.seen
        if not planned and not purse.spend(len(uses), promising=self._fits(target, uses, cases)):
            return False
        if target.kind is ConflictKind.TIGHT:
            return True
        return _is_gain(target.kind, self.outcomes.service(scenario, home, key), before)

    def _fits(self, target: Spotted, uses: tuple[Use, ...], moved: frozenset[str]) -> bool:
        wanted = [use for use in uses if use.case in moved]
        if target.use.case not in moved:
            wanted.append(target.use)
        return self.insertion.fits(wanted, moved)


# Where among the first objectives a conflict of each kind counts.
_COUNTS_AT = {ConflictKind.SHORT: 1, ConflictKind.RUSH: 2, ConflictKind.CONDITIONAL: 3, ConflictKind.RESERVE: 4}


def _is_gain(kind: ConflictKind, after: tuple[int, ...], before: tuple[int, ...]) -> bool:
    """Whether less is wanting of the conflict's kind, and nothing of what comes before it got worse."""
    at = _COUNTS_AT[kind]
    return after[at] < before[at] and all(one <= other for one, other in zip(after[:4], before[:4], strict=True))


def _still_wanting(edited: Edited, after: Iterable[Spotted]) -> bool:
    """Whether a case was moved to where a set is still missing for it: no remedy, even if another case gains."""
    return any(
        one.use.case in edited.touched and not one.never and SEVERITY[one.kind] > SEVERITY[ConflictKind.RESERVE]
        for one in after
    )


def none_worse(before: dict[str, Spotted], after: Iterable[Spotted]) -> bool:
    """Whether every conflict was there before and is no worse now."""
    return all(one.id in before and one.is_no_worse_than(before[one.id]) for one in after)
