"""Find the conflicts of a tray group in a scenario, each once."""

from __future__ import annotations

from picklist.sets.allocate_jobs import ask
from picklist.sets.allocation.solve import solve
from picklist.sets.allocation.terms import AllocationQuestion
from picklist.sets.find_conflicts import FoundConflict, find_conflicts
from picklist.sets.planning_context import PlanningContext, Scenario
from picklist.sets.remedies.planned_day import TrayGroup


class Outcomes:
    """Conflicts of tray groups, by a number for everything that they depend on."""

    def __init__(self, context: PlanningContext) -> None:
        self.context = context
        self.seen: dict[int, tuple[FoundConflict, ...]] = {}
        self._numbers: dict[tuple[object, ...], int] = {}

    def key(self, scenario: Scenario, group: TrayGroup) -> int:
        """A number for everything in a scenario that a group's plan depends on."""
        uses = tuple(use for use in scenario.uses if use.tray in group)
        keys = {use.key for use in uses} if scenario.only else set()
        content = (
            group,
            uses,
            tuple(extra for extra in scenario.extras if extra.tray in group),
            tuple(haste for haste in scenario.hastes if haste.tray in group),
            tuple(pair for pair in scenario.only if pair[0] in keys),
        )
        return self._numbers.setdefault(content, len(self._numbers))

    def knows(self, scenario: Scenario, group: TrayGroup) -> bool:
        """Whether the group's conflicts have been found already."""
        return self.key(scenario, group) in self.seen

    def question(self, scenario: Scenario, group: TrayGroup) -> AllocationQuestion:
        """The allocation question of the group."""
        return ask(self.context, scenario, group).question

    def conflicts_found(self, scenario: Scenario, group: TrayGroup) -> tuple[FoundConflict, ...]:
        """The conflicts of the group."""
        number = self.key(scenario, group)
        if number not in self.seen:
            asked = ask(self.context, scenario, group)
            self.seen[number] = find_conflicts(asked.uses, solve(asked.question), self.context.site.settings.margin)
        return self.seen[number]
