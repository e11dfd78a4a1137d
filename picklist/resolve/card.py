"""The card of one procedure while its layers are laid upon each other."""

from __future__ import annotations

from dataclasses import dataclass, field

from picklist.model.cards import Counted
from picklist.model.schedule import ONE_SIDE, Side
from picklist.resolve.desk import Draft
from picklist.resolve.versions import Target


@dataclass(slots=True)
class Card:
    """The card of one procedure as it stands after some layers.

    ``unmet`` are things that a standing line asks for under a condition that does not hold:
    a line above that removes or replaces them is right to find nothing.
    """

    drafts: dict[tuple[Target, Side | None, Counted], Draft] = field(default_factory=dict)
    unmet: set[Target] = field(default_factory=set)

    def put(self, draft: Draft) -> None:
        """Put a draft on the card; quantities of the same thing add up."""
        key = ((draft.kind, draft.thing), draft.side, draft.counted)
        there = self.drafts.get(key)
        self.drafts[key] = there.joined(draft) if there else draft

    def find(self, target: Target, side: Side | None) -> list[Draft]:
        """The drafts of a thing, of one side only if the line says a side."""
        found = [d for d in self.drafts.values() if (d.kind, d.thing) == target]
        if side in ONE_SIDE:
            found = [d for d in found if d.side in (None, side)]
        return found

    def take(self, draft: Draft) -> None:
        """Take a draft off the card."""
        del self.drafts[(draft.kind, draft.thing), draft.side, draft.counted]
