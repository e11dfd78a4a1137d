"""What becomes of a part of the trays in a scenario, found once and kept."""

from __future__ import annotations

from picklist.sets.allocate_jobs import ask
from picklist.sets.allocation.solve import solve
from picklist.sets.allocation.terms import Question
from picklist.sets.remedies.evening import Part
from picklist.sets.situation import Scenario, Situation
from picklist.sets.spotted import Spotted, spot


class Outcomes:
    """Conflicts of parts, by the number given to what they depend on."""

    def __init__(self, situation: Situation) -> None:
        self.situation = situation
        self.seen: dict[int, tuple[Spotted, ...]] = {}
        self._numbers: dict[tuple[object, ...], int] = {}

    def key(self, scenario: Scenario, part: Part) -> int:
        """A number for everything in a scenario that a part's plan depends on."""
        uses = tuple(use for use in scenario.uses if use.tray in part)
        keys = {use.key for use in uses} if scenario.only else set()
        content = (
            part,
            uses,
            tuple(extra for extra in scenario.extras if extra.tray in part),
            tuple(haste for haste in scenario.hastes if haste.tray in part),
            tuple(pair for pair in scenario.only if pair[0] in keys),
        )
        return self._numbers.setdefault(content, len(self._numbers))

    def knows(self, scenario: Scenario, part: Part) -> bool:
        """Whether the part's conflicts have been found already."""
        return self.key(scenario, part) in self.seen

    def question(self, scenario: Scenario, part: Part) -> Question:
        """What is asked of the part."""
        return ask(self.situation, scenario, part).question

    def spotted(self, scenario: Scenario, part: Part) -> tuple[Spotted, ...]:
        """The conflicts of the part."""
        number = self.key(scenario, part)
        if number not in self.seen:
            asked = ask(self.situation, scenario, part)
            self.seen[number] = spot(asked.uses, solve(asked.question), self.situation.site.settings.margin)
        return self.seen[number]
