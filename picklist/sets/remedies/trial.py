"""An edit tried: the parts that it touches planned again, and what became of every conflict."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from picklist.model.conflicts import ConflictKind, Edit
from picklist.sets.allocate_jobs import ask
from picklist.sets.allocation.solve import best_service, solve
from picklist.sets.remedies.evening import Edited, Evening, Part, apply_edits
from picklist.sets.remedies.moments import Moments
from picklist.sets.remedies.rooms import why_not
from picklist.sets.situation import Scenario
from picklist.sets.spotted import SEVERITY, Spotted, spot


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """Edits that remove a conflict. ``tight`` is the slack that is left when it turns into a tight one."""

    edits: tuple[Edit, ...]
    edited: Edited
    tight: int | None


class Trials:
    """Tries edits on an evening and remembers each part's outcome, so that nothing is planned twice."""

    def __init__(self, evening: Evening) -> None:
        self.evening = evening
        self.before = {part: plan.spotted for part, plan in evening.plans.items()}
        self._seen: dict[tuple[object, ...], tuple[Spotted, ...]] = {}
        self._served: dict[tuple[object, ...], tuple[int, ...]] = {}
        self.moments: dict[str, Moments] = {}

    def helps(self, target: Spotted, edits: tuple[Edit, ...]) -> Verdict | None:
        """The verdict when edits are allowed, remove the target and make no conflict new or worse."""
        edited = apply_edits(self.evening, edits)
        return None if why_not(self.evening, edited) else self.judge(target, edits, edited)

    def judge(self, target: Spotted, edits: tuple[Edit, ...], edited: Edited) -> Verdict | None:
        """As ``helps``, without asking whether the edits are allowed."""
        home = self.evening.situation.part_of[target.use.tray]
        if home not in edited.parts:
            return None
        tight = None
        # The conflict's own part first: most edits fail there, and the others need not be planned.
        if not self._may_help(target, edited.scenario, home):
            return None
        for part in sorted(edited.parts, key=lambda one: (one != home, one)):
            after = {one.id: one for one in self.spotted(edited.scenario, part)}
            before = {one.id: one for one in self.before.get(part, ())}
            left = after.pop(target.id, None)
            if left is not None:
                if left.kind is not ConflictKind.TIGHT or target.kind is ConflictKind.TIGHT:
                    return None
                tight = left.minutes
            if not none_worse(before, after.values()) or _still_wanting(edited, after.values()):
                return None
        return Verdict(edits=edits, edited=edited, tight=tight)

    def _may_help(self, target: Spotted, scenario: Scenario, home: Part) -> bool:
        """Whether the first objectives of the conflict's part become better, as they must when it is removed."""
        if target.kind is ConflictKind.TIGHT:
            return True
        return self._service(scenario, home) < self._service(self.evening.scenario, home)

    def _service(self, scenario: Scenario, part: Part) -> tuple[int, ...]:
        key = _key(scenario, part)
        if key not in self._served:
            self._served[key] = best_service(ask(self.evening.situation, scenario, part).question)
        return self._served[key]

    def spotted(self, scenario: Scenario, part: Part) -> tuple[Spotted, ...]:
        """The conflicts of one part in a scenario."""
        key = _key(scenario, part)
        if key not in self._seen:
            self._seen[key] = self._plan(scenario, part)
        return self._seen[key]

    def _plan(self, scenario: Scenario, part: Part) -> tuple[Spotted, ...]:
        situation = self.evening.situation
        asked = ask(situation, scenario, part)
        return spot(asked.uses, solve(asked.question), situation.site.settings.margin)


def _key(scenario: Scenario, part: Part) -> tuple[object, ...]:
    """What a part's plan depends on."""
    uses = tuple(use for use in scenario.uses if use.tray in part)
    keys = {use.key for use in uses}
    return (
        part,
        uses,
        tuple(extra for extra in scenario.extras if extra.tray in part),
        tuple(haste for haste in scenario.hastes if haste.tray in part),
        tuple(pair for pair in scenario.only if pair[0] in keys),
    )


def _still_wanting(edited: Edited, after: Iterable[Spotted]) -> bool:
    """Whether a case was moved to where a set is still missing for it: no remedy, even if another case gains."""
    return any(
        one.use.case in edited.touched and not one.never and SEVERITY[one.kind] > SEVERITY[ConflictKind.RESERVE]
        for one in after
    )


def none_worse(before: dict[str, Spotted], after: Iterable[Spotted]) -> bool:
    """Whether every conflict was there before and is no worse now."""
    return all(one.id in before and one.is_no_worse_than(before[one.id]) for one in after)
